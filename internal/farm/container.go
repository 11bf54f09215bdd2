package farm

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/measure"
)

// Bounds of a container: 1 mL to 10 m³, and a tare of at most a tonne.
const (
	maxContainer measure.Millilitres = 10_000_000
	maxTare      measure.Grams       = 1_000_000
)

// Container is a vessel of the garden: scraps are counted in it by its volume,
// or weighed in it and its tare taken off. What was entered is kept beside
// what it came to.
type Container struct {
	ID        uuid.UUID
	Name      string
	Volume    measure.Quantity
	Tare      measure.Quantity // empty value: not noted
	VolumeML  measure.Millilitres
	TareG     measure.Grams
	CreatedAt time.Time
	Version   int
}

// Work checks the container and works its volume and tare out. It refuses with
// container.invalid, naming each field at fault.
func (c Container) Work() (Container, error) {
	var f Faults
	f.Keep(CheckName("container.invalid", "/name", c.Name, 120))
	ml, err := c.Volume.Millilitres()
	if err != nil || ml < 1 || ml > maxContainer {
		f.Add("container.invalid", "/volume", "volume: must be between 1 mL and 10 m³, such as 20 L; got %q %q", c.Volume.Value, c.Volume.Unit)
	}
	c.VolumeML, c.TareG = ml, 0
	if c.Tare.Value != "" {
		g, err := c.Tare.Grams()
		if err != nil || g > maxTare {
			f.Add("container.invalid", "/tare", "tare: must be a mass of at most 1,000 kg, such as 0.9 kg; got %q %q", c.Tare.Value, c.Tare.Unit)
		}
		c.TareG = g
	}
	return c, f.Err()
}

// In gives the amount with what the container it names says: its volume where
// vessels are counted, its tare where one stood on the scale and no tare was
// stated. It refuses with mass.invalid, naming the field at fault under at.
func (e Entered) In(at string, c Container) (Entered, error) {
	e.ContainerID = c.ID
	switch {
	case e.Method == ByEstimate:
		return e, Refuse("mass.invalid", at+"/container_id", "container_id: an estimate by eye has none; use method container")
	case e.Method == ByContainer && e.Each.Value != "":
		return e, Refuse("mass.invalid", at+"/container", "container: %s has a volume of its own; give container_id or container, not both", c.Name)
	case e.Method == ByContainer:
		e.Each = c.Volume
	case e.Method == ByScale && e.Tare.Value == "" && c.Tare.Value == "":
		return e, Refuse("mass.invalid", at+"/container_id", "container_id: no tare is noted for %s; note it, or state the tare", c.Name)
	case e.Method == ByScale && e.Tare.Value == "":
		e.Tare = c.Tare
	}
	return e, nil
}
