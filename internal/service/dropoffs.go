package service

import (
	"context"
	"time"

	"github.com/google/uuid"

	"midden/internal/exchange"
	"midden/internal/farm"
	"midden/internal/store"
)

// CreateWindow adds a drop-off window; its ID may be the client's own. It
// refuses with window.invalid, window.exists, site.not_found and
// member.not_found (the host).
func (s *Service) CreateWindow(ctx context.Context, a Actor, garden uuid.UUID, in farm.Window, once Once) (Done[store.WindowLoad], error) {
	content, err := digest(in)
	if err != nil {
		return Done[store.WindowLoad]{}, err
	}
	in.ID = s.idOr(in.ID)
	return write(ctx, s, a, garden, farm.ManageGarden, once,
		func(tx *store.Tx) made[store.WindowLoad] {
			return made[store.WindowLoad]{tx.WindowContent(in.ID), tx.Window(in.ID)}
		},
		func(w *Work, m made[store.WindowLoad]) (store.WindowLoad, error) {
			if same, err := again(m.content, content, "window.exists"); same || err != nil {
				return m.row.Value, err
			}
			win := in
			win.Status, win.CreatedAt, win.Version = farm.WindowOpen, w.Now, 1
			win, err := w.workWindow(win)
			if err != nil {
				return store.WindowLoad{}, err
			}
			w.InsertWindow(win, content)
			return store.WindowLoad{Window: win}, nil
		})
}

// workWindow checks a window and finds the garden's day for it.
func (w *Work) workWindow(win farm.Window) (farm.Window, error) {
	win.StartsAt, win.EndsAt = win.StartsAt.UTC().Truncate(time.Microsecond), win.EndsAt.UTC().Truncate(time.Microsecond)
	win.ChangedAt = w.Now
	win, err := win.Work()
	if err != nil {
		return win, err
	}
	win.StartsOn, err = w.Garden.DayOf(win.StartsAt)
	return win, err
}

// Windows lists drop-off windows, the soonest first, for any member.
func (s *Service) Windows(ctx context.Context, a Actor, garden uuid.UUID, f store.WindowFilter, p store.Page) (store.List[store.WindowLoad], error) {
	return paged(ctx, s, a, garden, anyone, func(b *store.Batch) *store.Paged[store.WindowLoad] { return b.Windows(f, p) })
}

// Window is one drop-off window, for any member. It refuses with window.not_found.
func (s *Service) Window(ctx context.Context, a Actor, garden, id uuid.UUID) (store.WindowLoad, error) {
	var row *store.Row[store.WindowLoad]
	if _, _, err := s.read(ctx, a, garden, anyone, func(b *store.Batch) { row = b.Window(id) }); err != nil {
		return store.WindowLoad{}, err
	}
	return row.Or("window.not_found", "no drop-off window %s in this garden", id)
}

// UpdateWindow changes a drop-off window at the version the person has read;
// its open pledges follow to its day and site. It refuses with
// window.not_found, version.stale, window.invalid, site.not_found and
// member.not_found (the host).
func (s *Service) UpdateWindow(ctx context.Context, a Actor, garden, id uuid.UUID, version int, edit func(*farm.Window)) (store.WindowLoad, error) {
	done, err := write(ctx, s, a, garden, farm.TakeIn, Once{},
		func(tx *store.Tx) *store.Row[store.WindowLoad] { return tx.LockWindow(id) },
		func(w *Work, row *store.Row[store.WindowLoad]) (store.WindowLoad, error) {
			load, err := row.Or("window.not_found", "no drop-off window %s in this garden", id)
			if err != nil {
				return load, err
			}
			if err := checkVersion("drop-off window", load.Version, version); err != nil {
				return load, err
			}
			win := load.Window
			edit(&win)
			win.ID, win.CreatedAt, win.Version = id, load.CreatedAt, version+1
			if load.Window, err = w.workWindow(win); err != nil {
				return load, err
			}
			w.UpdateWindow(load.Window)
			return load, nil
		})
	return done.Value, err
}

// The feed reaches from a month back to half a year ahead; more windows than
// feedMost in that time are cut off at the far end.
const (
	feedBack  = 30 * 24 * time.Hour
	feedAhead = 180 * 24 * time.Hour
	feedMost  = 2000
)

// DropOffFeed is the garden's drop-off windows for its calendar feed, for any
// member. It names no person.
func (s *Service) DropOffFeed(ctx context.Context, a Actor, garden uuid.UUID) (exchange.Feed, error) {
	now := s.now()
	var rows *store.Rows[store.WindowLoad]
	g, _, err := s.read(ctx, a, garden, anyone, func(b *store.Batch) {
		rows = b.WindowsBetween(now.Add(-feedBack), now.Add(feedAhead), feedMost)
	})
	if err != nil {
		return exchange.Feed{}, err
	}
	feed := exchange.Feed{Garden: g.Name}
	for _, w := range rows.Values {
		feed.Windows = append(feed.Windows, exchange.Window{ID: w.ID.String(), Site: w.Site, Start: w.StartsAt, End: w.EndsAt,
			State: exchange.WindowState(w.Status), Note: w.Note, Changed: w.ChangedAt, Revision: w.Version - 1})
	}
	return feed, nil
}
