package service

import (
	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/store"
)

// Every amount that a person enters becomes grams here. A use case asks for
// the containers with its first batch and weighs when it knows the material:
//
//	queue: k.vessels = vessels(&tx.Batch, &in.Mass, in.Part) // nil amounts are fine
//	do:    entered, weight, err := w.weigh("/amount", in.Mass, material.DensityGPerL, k.vessels)
//
// entered is what to keep: with the volume or tare of the container it names.
// A digest of the request must be taken of what came in, not of entered: the
// container may be measured anew before the same request is sent again.

// vessels asks for the garden's containers that amounts name; nothing is asked
// when none is named.
func vessels(b *store.Batch, amounts ...*farm.Entered) *store.Rows[farm.Container] {
	var ids []uuid.UUID
	for _, e := range amounts {
		if e != nil && e.ContainerID != uuid.Nil {
			ids = append(ids, e.ContainerID)
		}
	}
	if len(ids) == 0 {
		return &store.Rows[farm.Container]{}
	}
	return b.ContainersByID(ids)
}

// weigh turns an amount into grams with the garden's settings. at is its JSON
// pointer in the request ("/amount"). It refuses with container.not_found and
// mass.invalid, naming the fields at fault under at.
func (w *Work) weigh(at string, e farm.Entered, density farm.Figure, v *store.Rows[farm.Container]) (farm.Entered, farm.Weight, error) {
	return weigh(at, e, density, w.Garden.Settings, v)
}

// weigh is Work.weigh for a use case that only looks.
func weigh(at string, e farm.Entered, density farm.Figure, s farm.Settings, v *store.Rows[farm.Container]) (farm.Entered, farm.Weight, error) {
	e, err := inVessel(at, e, v)
	if err != nil {
		return e, farm.Weight{}, err
	}
	weight, err := e.Work(at, density, s)
	return e, weight, err
}

// inVessel gives the amount with what the container it names says.
func inVessel(at string, e farm.Entered, v *store.Rows[farm.Container]) (farm.Entered, error) {
	if e.ContainerID == uuid.Nil {
		return e, nil
	}
	for _, c := range v.Values {
		if c.ID == e.ContainerID {
			return e.In(at, c)
		}
	}
	return e, farm.Refuse("container.not_found", at+"/container_id", "container_id: no container %s in this garden", e.ContainerID)
}
