package service

import (
	"context"

	"github.com/google/uuid"

	"midden/internal/store"
)

// Together runs use cases of one person in one garden in one transaction: all
// of them count, or none. fn must pass its context on, and may run again after
// a deadlock, so it keeps its effects inside.
//
// A use case sees the things that earlier ones made, but not what they moved:
// postings go out with the commit. Two of them must not take from one stock
// more than it holds; the commit would refuse.
func (s *Service) Together(ctx context.Context, a Actor, garden uuid.UUID, fn func(context.Context) error) error {
	return s.store.InTx(ctx, a.in(garden), func(tx *store.Tx) error { return fn(tx.Context()) })
}
