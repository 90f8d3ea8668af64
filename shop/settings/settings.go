package settings

import (
	"context"
	"encoding/json"
	"slices"
	"strings"

	"needlepace/shop"
	"needlepace/words"
)

// Settings keeps how the shop wants to see things, and its logo.
type Settings struct {
	store shop.SetupStore
	kept  shop.Kept[shop.Settings]
}

// New keeps settings in a store.
func New(store shop.SetupStore) *Settings { return &Settings{store: store} }

// Get are how the shop wants to see things.
func (s *Settings) Get(ctx context.Context) (shop.Settings, error) {
	if shop.OnlyReads(ctx) {
		return s.kept.Get(ctx, s.store, s.read)
	}
	return s.read(ctx)
}

func (s *Settings) read(ctx context.Context) (shop.Settings, error) {
	set := shop.DefaultSettings
	b, err := s.store.Setting(ctx, "settings")
	if err != nil || b == nil {
		return set, err
	}
	if err := json.Unmarshal(b, &set); err != nil {
		return shop.DefaultSettings, shop.Errorf(shop.Storage, "the kept settings cannot be read: %w", err)
	}
	return set, nil
}

// Zone is the shop's time zone until it says when it works.
func (s *Settings) Zone(ctx context.Context) (words.Zone, error) {
	set, err := s.Get(ctx)
	if err != nil {
		return words.Zone{}, err
	}
	return words.LoadZone(set.TimeZone)
}

// DoorOpen reports whether the door for phones was left open.
func (s *Settings) DoorOpen(ctx context.Context) (bool, error) {
	b, err := s.store.Setting(ctx, "door")
	return string(b) == "open", err
}

// KeepDoor keeps whether the door for phones is open, for the next start.
func (s *Settings) KeepDoor(ctx context.Context, open bool) error {
	value := "shut"
	if open {
		value = "open"
	}
	return s.store.SetSetting(ctx, "door", []byte(value))
}

// Check says what is wrong with settings, and writes them as they are kept.
func (s *Settings) Check(set *shop.Settings) error {
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
			return shop.At(c.what, shop.Invalidf("%s is %q; it must be %s", c.what, c.value,
				strings.Join(c.of, " or ")))
		}
	}
	if len(set.Currency) != 3 || strings.ToUpper(set.Currency) != set.Currency ||
		strings.Trim(set.Currency, "ABCDEFGHIJKLMNOPQRSTUVWXYZ") != "" {
		return shop.At("currency",
			shop.Invalidf("the currency is %q; it must be three capital letters, e.g. EUR", set.Currency))
	}
	if err := shop.CheckText("shop name", set.ShopName, 200, false); err != nil {
		return shop.At("shop_name", err)
	}
	if set.DriftAt = strings.TrimSpace(set.DriftAt); set.DriftAt != "" {
		at, err := words.ParseTimeOfDay(set.DriftAt)
		if err != nil {
			return shop.At("drift_at", shop.Invalidf("machines are looked over at %q; give a time of day, e.g. 02:00, or nothing for never", set.DriftAt))
		}
		set.DriftAt = at.Raw()
	}
	if n := set.PlanEvery; n != 0 && (n < 5 || n > 24*60) {
		return shop.At("plan_every_minutes", shop.Invalidf("the plan is looked over every %d minutes; give 5 to 1440, or 0 for never", n))
	}
	if _, err := words.LoadZone(set.TimeZone); err != nil {
		return shop.At("time_zone", shop.AsInvalid(err))
	}
	return nil
}

// Save checks and keeps the settings.
func (s *Settings) Save(ctx context.Context, set shop.Settings) error {
	if err := s.Check(&set); err != nil {
		return err
	}
	b, err := json.Marshal(set)
	if err != nil {
		return err
	}
	return s.store.SetSetting(ctx, "settings", b)
}
