package demo

import (
	"context"
	"fmt"
	"strings"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/service"
)

// GardenID is the demo garden's, the same in every database.
var GardenID = uuid.NewSHA1(uuid.NameSpaceOID, []byte("midden demo garden"))

// emailOf is an address nobody can have (RFC 2606 reserves the ending).
func emailOf(name string) string {
	first, _, _ := strings.Cut(strings.ToLower(name), " ")
	return first + "@lowfield.example"
}

// found makes the garden, its people and its places on the first morning.
func (s *story) found(ctx context.Context) error {
	s.at(8, 0)
	for _, f := range personFacts {
		s.people = append(s.people, &person{fact: f})
	}
	p := s.people[0]
	p.email, p.secret = emailOf(p.fact.name), s.o.Password()
	account, err := s.svc.NewAccount(ctx, p.email, p.fact.name, p.secret, true)
	if err != nil {
		return err
	}
	p.actor = service.Actor{AccountID: account.ID}
	set := farm.DefaultSettings()
	set.CoverMM = coverMM
	set.WeeklyLimitG, set.VolumeLimitL, set.AreaLimitM2 = 400_000, 25_000, 120
	set.LimitsNote = "Invented for the demo. Ask which rules hold where you are."
	set.Sharing = farm.SharingRule{Kind: farm.ShareByScraps, ReservePct: 25}
	made, err := s.svc.CreateGarden(ctx, p.actor, service.GardenNew{ID: GardenID, Name: Name, TimeZone: zone, Hemisphere: farm.North,
		Units: measure.Metric, Settings: &set}, service.Once{})
	g, err := value(s, made, err)
	if err != nil {
		return err
	}
	s.garden = g.ID
	_, me, err := s.svc.Garden(ctx, p.actor, s.garden)
	if err != nil {
		return err
	}
	p.id = me.ID
	for _, do := range []func(context.Context) error{s.addPlaces, s.addPeople, s.addVessels, s.addHouseholds, s.noteAvailability, s.layStock} {
		if err := do(ctx); err != nil {
			return err
		}
	}
	s.tell("%s is founded", Name)
	return nil
}

func (s *story) addPlaces(ctx context.Context) error {
	for _, f := range siteFacts {
		done, err := s.svc.CreateSite(ctx, s.lead(), s.garden, farm.Site{Name: f.name, Kind: f.kind, FreezerL: f.freezerL, AreaM2: f.areaM2,
			At: &farm.Coordinates{Latitude: f.lat, Longitude: f.lon}, Note: f.note}, service.Once{})
		site, err := value(s, done, err)
		if err != nil {
			return err
		}
		s.sites = append(s.sites, site.ID)
	}
	for _, f := range overflowFacts {
		done, err := s.svc.CreateOverflowPlace(ctx, s.lead(), s.garden, f, service.Once{})
		place, err := value(s, done, err)
		if err != nil {
			return err
		}
		s.overflow = append(s.overflow, place.ID)
	}
	g, _, err := s.svc.Garden(ctx, s.lead(), s.garden)
	if err != nil {
		return err
	}
	s.writes++
	_, err = s.svc.UpdateGarden(ctx, s.lead(), s.garden, g.Version, func(g *farm.Garden) { g.Settings.DefaultSiteID = s.sites[shed] })
	if err != nil {
		return err
	}
	list := farm.AcceptanceList{Refused: refused, ValidFrom: s.first, Note: "Nothing that was on a plate."}
	for _, f := range scrapFacts {
		list.Accepted = append(list.Accepted, f.material)
	}
	done, err := s.svc.IssueAcceptance(ctx, s.lead(), s.garden, list, service.Once{})
	_, err = value(s, done, err)
	return err
}

func (s *story) addPeople(ctx context.Context) error {
	for _, p := range s.people[1:] {
		in := service.MemberNew{DisplayName: p.fact.name, Role: p.fact.role}
		if p.fact.sign {
			p.email, p.secret = emailOf(p.fact.name), s.o.Password()
			in.Email, in.InitialPassword = p.email, p.secret
		}
		done, err := s.svc.AddMember(ctx, s.lead(), s.garden, in, service.Once{})
		m, err := value(s, done, err)
		if err != nil {
			return fmt.Errorf("%s: %w", p.fact.name, err)
		}
		p.id, p.actor = m.ID, service.Actor{AccountID: m.AccountID}
	}
	return nil
}

func (s *story) addVessels(ctx context.Context) error {
	for _, v := range []struct {
		c  farm.Container
		id *uuid.UUID
	}{
		{farm.Container{Name: "Kitchen bucket, 10 L", Volume: litres(10), Tare: kilograms(410)}, &s.bucket},
		{farm.Container{Name: "Grey tub, 12 L", Volume: litres(12), Tare: kilograms(620)}, &s.tub},
		{farm.Container{Name: "Crate, 30 L", Volume: litres(30), Tare: kilograms(1500)}, new(uuid.UUID)},
	} {
		done, err := s.svc.CreateContainer(ctx, s.lead(), s.garden, v.c, service.Once{})
		c, err := value(s, done, err)
		if err != nil {
			return err
		}
		*v.id = c.ID
	}
	return nil
}

func litres(n int) measure.Quantity {
	return measure.Quantity{Value: fmt.Sprint(n), Unit: measure.Litre}
}

// addHouseholds books the families in, and who of the members brings scraps.
func (s *story) addHouseholds(ctx context.Context) error {
	late := max(1, s.o.Weeks*3/4)
	usual := func(i int) giver {
		g := giver{comes: 0.26 + 0.22*s.rng.Float64(), grams: 1300 + 1500*s.rng.Float64(), weighs: s.chance(0.65)}
		if i%3 == 2 {
			g.joined = s.rng.IntN(late)
		}
		return g
	}
	for i, name := range householdNames {
		done, err := s.svc.CreateHousehold(ctx, s.lead(), s.garden, farm.Household{Name: name, Plot: fmt.Sprint(3 + 2*i),
			Baseline: baselines[i%len(baselines)]}, service.Once{})
		h, err := value(s, done, err)
		if err != nil {
			return err
		}
		g := usual(i)
		g.household = h.ID
		s.houses, s.givers = append(s.houses, h.ID), append(s.givers, g)
	}
	for i, p := range s.people {
		if p.fact.role != farm.Donor || i%2 == 1 {
			continue
		}
		g := usual(i)
		g.member = p.id
		if i == coffeeDonor {
			g.coffee, g.comes, g.grams, g.weighs, g.joined = true, 0.8, 3200, true, 0
		}
		s.givers = append(s.givers, g)
	}
	return nil
}

// coffeeDonor runs the counter of the reading room and brings its grounds.
const coffeeDonor = 14

func (s *story) noteAvailability(ctx context.Context) error {
	for _, p := range s.people {
		if p.fact.days == "" {
			continue
		}
		when := farm.Availability{MemberID: p.id}
		for _, d := range p.fact.days {
			when.Weekdays[d-'0'] = true
		}
		s.writes++
		if _, err := s.svc.SetAvailability(ctx, p.actor, s.garden, 0, when); err != nil {
			return err
		}
	}
	return nil
}
