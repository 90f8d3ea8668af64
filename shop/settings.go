package shop

import (
	"context"
	"encoding/json"
	"slices"
	"strings"
)

// settingThings keeps how the shop wants to see things, and its logo.
type settingThings struct{ store SetupStore }

func newSettingThings(store SetupStore) *settingThings { return &settingThings{store} }

// Settings are how the shop wants to see things.
func (s *settingThings) Settings(ctx context.Context) (Settings, error) {
	set := DefaultSettings
	b, err := s.store.Setting(ctx, "settings")
	if err != nil || b == nil {
		return set, err
	}
	if err := json.Unmarshal(b, &set); err != nil {
		return DefaultSettings, Errorf(Storage, "the kept settings cannot be read: %w", err)
	}
	return set, nil
}

// SaveSettings checks and keeps the settings.
func (s *settingThings) SaveSettings(ctx context.Context, set Settings) error {
	set.ShopName = strings.TrimSpace(set.ShopName)
	for _, c := range []struct {
		what, value string
		of          []string
	}{
		{"length", set.Length, []string{"mm", "inch"}},
		{"hours", set.Hours, []string{"24", "12"}},
		{"paper", set.Paper, []string{"A4", "Letter"}},
	} {
		if !slices.Contains(c.of, c.value) {
			return Errorf(Invalid, "%s is %q; it must be %s", c.what, c.value, strings.Join(c.of, " or "))
		}
	}
	if len(set.Currency) != 3 || strings.ToUpper(set.Currency) != set.Currency || strings.Trim(set.Currency, "ABCDEFGHIJKLMNOPQRSTUVWXYZ") != "" {
		return Errorf(Invalid, "the currency is %q; it must be three capital letters, e.g. EUR", set.Currency)
	}
	if err := CheckText("shop name", set.ShopName, 200, false); err != nil {
		return err
	}
	b, err := json.Marshal(set)
	if err != nil {
		return err
	}
	return s.store.SetSetting(ctx, "settings", b)
}
