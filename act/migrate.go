package act

import "context"

// Migrate brings up to date what older versions kept, each step once in a
// shop's life: set-ups mean machines and designs by ID, designs are called by
// their files. A shop that can only be read stays as it is.
func (s *Shop) Migrate(ctx context.Context) error {
	for _, step := range []struct {
		key string // the setting that says that it is done
		do  func(context.Context) error
	}{
		{"setups_by_id", s.Setups.ByID}, // while designs still have the names that set-ups know
		{"designs_by_file", s.Designs.ByFile},
	} {
		done, err := s.store.Setting(ctx, step.key)
		if err != nil {
			return err
		}
		if done != nil {
			continue
		}
		if err = step.do(ctx); err == nil {
			err = s.store.SetSetting(ctx, step.key, []byte("true"))
		}
		if err = kindly(err); err != nil {
			return err
		}
	}
	return nil
}
