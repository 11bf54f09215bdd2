package service

import (
	"time"
	_ "time/tzdata" // gardens' zones must not depend on the machine

	"github.com/google/uuid"

	"midden/internal/auth"
	"midden/internal/farm"
	"midden/internal/store"
	"midden/internal/vermi"
)

// Options of a service. Store and Clock must be set; the rest has defaults.
type Options struct {
	Store     *store.Store
	Clock     func() time.Time
	IDs       func() uuid.UUID
	Catalogue []farm.Material
	Passwords *auth.Passwords
	Signer    *auth.Signer // of access tokens; nil: nobody can sign in
	PlanSlots int          // plans worked out at a time; 0: one per processor
	Bulk      bool         // for loading years of records: feedings are not held against the bin's past, which costs most of their time
}

// Service runs the use cases. Safe for concurrent use.
type Service struct {
	store        *store.Store
	clock        func() time.Time
	ids          func() uuid.UUID
	catalogue    map[string]farm.Material
	ownCatalogue bool     // not the published one
	keys         []string // of the catalogue, in its order
	passwords    *auth.Passwords
	signer       *auth.Signer
	plans        planSlots
	recall       recall // states of bins, by their records
	bulk         bool
}

// New makes a service.
func New(o Options) *Service {
	s := &Service{store: o.Store, clock: o.Clock, ids: o.IDs, catalogue: map[string]farm.Material{}, passwords: o.Passwords, signer: o.Signer, plans: newPlanSlots(o.PlanSlots), bulk: o.Bulk}
	if s.ids == nil {
		s.ids = func() uuid.UUID { return uuid.Must(uuid.NewV7()) }
	}
	if s.passwords == nil {
		s.passwords = auth.NewPasswords(auth.PasswordOptions{})
	}
	if s.ownCatalogue = o.Catalogue != nil; !s.ownCatalogue {
		o.Catalogue = vermi.Catalogue()
	}
	for _, m := range o.Catalogue {
		s.catalogue[m.Key] = m
		s.keys = append(s.keys, m.Key)
	}
	return s
}

// Store is the service's store, for wiring.
func (s *Service) Store() *store.Store { return s.store }

// now is the instant of a use case, as exact as the database keeps it.
func (s *Service) now() time.Time { return s.clock().UTC().Truncate(time.Microsecond) }

// idOr is the client's own id, or a new one.
func (s *Service) idOr(id uuid.UUID) uuid.UUID {
	if id == uuid.Nil {
		return s.ids()
	}
	return id
}

// Actor is who asks: a signed-in person and the session they ask with.
type Actor struct {
	AccountID uuid.UUID
	SessionID uuid.UUID
}

func (a Actor) in(garden uuid.UUID) store.Scope {
	return store.Scope{Garden: garden, Account: a.AccountID}
}
