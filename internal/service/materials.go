package service

import (
	"context"
	"fmt"
	"slices"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/store"
)

// known is the material as the garden works with it; ok is false when neither
// the catalogue nor the garden has it.
func (s *Service) known(key string, row *store.Row[farm.MaterialOverride]) (farm.KnownMaterial, bool) {
	var k farm.KnownMaterial
	m, published := s.catalogue[key]
	if published {
		k.Published = &m
		k.Material = m
	}
	if row.Found {
		o := row.Value
		k.Override = &o
		k.Material = o.Apply(m)
	}
	return k, published || row.Found
}

// knownMaterials merges the catalogue with what a garden says: the catalogue's
// in its order, then the garden's own by key.
func (s *Service) knownMaterials(overrides []farm.MaterialOverride) []farm.KnownMaterial {
	by := map[string]farm.MaterialOverride{}
	for _, o := range overrides {
		by[o.Key] = o
	}
	keys := slices.Clone(s.keys)
	for _, o := range overrides {
		if _, published := s.catalogue[o.Key]; !published {
			keys = append(keys, o.Key)
		}
	}
	out := make([]farm.KnownMaterial, 0, len(keys))
	for _, key := range keys {
		o, found := by[key]
		k, _ := s.known(key, &store.Row[farm.MaterialOverride]{Value: o, Found: found})
		out = append(out, k)
	}
	return out
}

// Materials lists the catalogue as the garden works with it, for any member.
func (s *Service) Materials(ctx context.Context, a Actor, garden uuid.UUID) ([]farm.KnownMaterial, error) {
	var rows *store.Rows[farm.MaterialOverride]
	_, _, err := s.read(ctx, a, garden, anyone, func(b *store.Batch) { rows = b.MaterialOverrides() })
	if err != nil {
		return nil, err
	}
	return s.knownMaterials(rows.Values), nil
}

// MaterialFilter narrows a list of materials. Zero fields do not narrow.
type MaterialFilter struct {
	Use   farm.MaterialUse
	Group farm.Group
}

// MaterialPage is part of the list of materials, in the catalogue's order, then
// the garden's own by key; for any member.
func (s *Service) MaterialPage(ctx context.Context, a Actor, garden uuid.UUID, f MaterialFilter, p Page) (List[farm.KnownMaterial], error) {
	name := fmt.Sprintf("materials %s %+v", garden, f)
	at, err := s.store.ReadCursor(name, p.Cursor, 1)
	if err != nil {
		return List[farm.KnownMaterial]{}, err
	}
	all, err := s.Materials(ctx, a, garden)
	if err != nil {
		return List[farm.KnownMaterial]{}, err
	}
	if at != nil { // a material that was there stays: none of the garden's own is ever dropped
		all = all[1+slices.IndexFunc(all, func(m farm.KnownMaterial) bool { return m.Key == at[0] }):]
	}
	list := List[farm.KnownMaterial]{Items: []farm.KnownMaterial{}}
	for _, m := range all {
		if f.Use != "" && m.Use != f.Use || f.Group != "" && m.Group != f.Group {
			continue
		}
		if len(list.Items) == p.Size() {
			list.Next = s.store.Cursor(name, list.Items[len(list.Items)-1].Key)
			break
		}
		list.Items = append(list.Items, m)
	}
	return list, nil
}

// Material is one material. It refuses with material.not_found.
func (s *Service) Material(ctx context.Context, a Actor, garden uuid.UUID, key string) (farm.KnownMaterial, error) {
	var row *store.Row[farm.MaterialOverride]
	if _, _, err := s.read(ctx, a, garden, anyone, func(b *store.Batch) { row = b.MaterialOverride(key) }); err != nil {
		return farm.KnownMaterial{}, err
	}
	k, ok := s.known(key, row)
	if !ok {
		return k, noMaterial(key)
	}
	return k, nil
}

func noMaterial(key string) error {
	return farm.Refuse("material.not_found", "/material", "material: %q is neither in the catalogue nor the garden's own", key)
}

// SetMaterial puts the garden's own figures for a material, or a material of
// its own. version is the override's, 0 for none yet. It refuses with
// version.stale and material.invalid.
func (s *Service) SetMaterial(ctx context.Context, a Actor, garden uuid.UUID, version int, o farm.MaterialOverride) (farm.KnownMaterial, error) {
	done, err := write(ctx, s, a, garden, farm.ManageGarden, Once{},
		func(tx *store.Tx) *store.Row[farm.MaterialOverride] { return tx.LockMaterialOverride(o.Key) },
		func(w *Work, row *store.Row[farm.MaterialOverride]) (farm.KnownMaterial, error) {
			if err := checkVersion("material", row.Value.Version, version); err != nil {
				return farm.KnownMaterial{}, err
			}
			was, there := s.known(o.Key, row)
			next := o
			next.UpdatedAt, next.Version = w.Now, version+1
			if err := next.Validate(was.Published != nil); err != nil {
				return farm.KnownMaterial{}, err
			}
			if there && next.Use != nil && *next.Use != was.Use {
				return farm.KnownMaterial{}, farm.Refuse("material.invalid", "/use", "use: %s is %s and stays so; got %s", o.Key, was.Use, *next.Use)
			}
			k, _ := s.known(o.Key, &store.Row[farm.MaterialOverride]{Value: next, Found: true})
			return k, w.PutMaterialOverride(next)
		})
	return done.Value, err
}

// ResetMaterial goes back to the published figures. It refuses with
// material.in_use for a material of the garden's own: lots may name it.
func (s *Service) ResetMaterial(ctx context.Context, a Actor, garden uuid.UUID, key string, version int) (farm.KnownMaterial, error) {
	done, err := write(ctx, s, a, garden, farm.ManageGarden, Once{},
		func(tx *store.Tx) *store.Row[farm.MaterialOverride] { return tx.LockMaterialOverride(key) },
		func(w *Work, row *store.Row[farm.MaterialOverride]) (farm.KnownMaterial, error) {
			m, published := s.catalogue[key]
			switch {
			case !published && !row.Found:
				return farm.KnownMaterial{}, noMaterial(key)
			case !published:
				return farm.KnownMaterial{}, farm.Refuse("material.in_use", "", "material %q is the garden's own and lots may name it; change its figures instead", key)
			}
			if err := checkVersion("material", row.Value.Version, version); err != nil {
				return farm.KnownMaterial{}, err
			}
			w.DropMaterialOverride(key)
			return farm.KnownMaterial{Material: m, Published: &m}, nil
		})
	return done.Value, err
}
