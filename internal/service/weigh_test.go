package service_test

import (
	"testing"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/service"
)

func TestALotIsCountedInTheGardensContainer(t *testing.T) {
	t.Parallel()
	p := setup(t)
	bucket, err := p.svc.CreateContainer(t.Context(), p.founder, p.garden, farm.Container{Name: "blue bucket",
		Volume: measure.Quantity{Value: "20", Unit: measure.Litre}, Tare: measure.Quantity{Value: "900", Unit: measure.Gram}}, service.Once{})
	p.must(err)
	counted := p.takeIn(farm.Entered{Method: farm.ByContainer, ContainerID: bucket.Value.ID, Count: 1, FillPct: 50, DensityGPerL: 400})
	if counted.Weight.Net != 4000 {
		t.Errorf("got %+v, want 4000 g", counted.Lot)
	}
	weighed := p.takeIn(farm.Entered{Method: farm.ByScale, ContainerID: bucket.Value.ID, Gross: measure.Quantity{Value: "9.4", Unit: measure.Kilogram}})
	if weighed.Weight.Net != 8500 {
		t.Errorf("got %d g, want 9400 g less the bucket's 900 g", weighed.Weight.Net)
	}
	part := farm.Entered{Method: farm.ByContainer, ContainerID: bucket.Value.ID, Count: 1, FillPct: 10, DensityGPerL: 400}
	split, err := p.svc.StoreLot(t.Context(), p.founder, p.garden, counted.ID, service.Storage{Place: farm.Freezer, Part: &part}, service.Once{})
	p.must(err)
	if split.Value.OnHand != 800 || p.onHand(counted.ID) != 3200 {
		t.Errorf("got %d g moved and %d g left", split.Value.OnHand, p.onHand(counted.ID))
	}
	_, err = p.svc.UpdateContainer(t.Context(), p.founder, p.garden, bucket.Value.ID, 1, func(c *farm.Container) { c.Volume.Value = "10" })
	p.must(err)
	story, err := p.svc.Lot(t.Context(), p.founder, p.garden, counted.ID)
	p.must(err)
	if story.Weight.Net != 4000 || story.Entered.ContainerID != bucket.Value.ID || story.Entered.Each.Value != "20" {
		t.Errorf("got %+v, want what was counted then", story.Entered)
	}
	p.sound()
}

func TestAContainerOfAnotherGardenIsUnknown(t *testing.T) {
	t.Parallel()
	p := setup(t)
	in := p.intake(farm.Entered{Method: farm.ByContainer, ContainerID: uuid.New(), Count: 1, FillPct: 50})
	_, err := p.svc.TakeIn(t.Context(), p.founder, p.garden, in, service.Once{})
	wantCode(t, err, "container.not_found")
	if f := farm.AsError(err).Field; f != "/amount/container_id" {
		t.Errorf("points at %s", f)
	}
	lot := p.takeIn(kg("3"))
	_, err = p.svc.StoreLot(t.Context(), p.founder, p.garden, lot.ID, service.Storage{Place: farm.Freezer, Part: &in.Mass}, service.Once{})
	wantCode(t, err, "container.not_found")
	if f := farm.AsError(err).Field; f != "/part/container_id" {
		t.Errorf("points at %s", f)
	}
}
