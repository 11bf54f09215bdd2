package farm

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/measure"
)

// WindowStatus is how a drop-off window stands.
type WindowStatus string

// States of a window. Moved has new times and takes pledges like an open one;
// closed is not held.
const (
	WindowOpen   WindowStatus = "open"
	WindowFull   WindowStatus = "full"
	WindowMoved  WindowStatus = "moved"
	WindowClosed WindowStatus = "closed"
)

// WindowStatuses lists the states of a window.
var WindowStatuses = []WindowStatus{WindowOpen, WindowFull, WindowMoved, WindowClosed}

// LongestWindow is how long a window may last.
const LongestWindow = 7 * 24 * time.Hour

// Window is a time when scraps are taken in at a site.
type Window struct {
	ID        uuid.UUID
	SiteID    uuid.UUID
	StartsAt  time.Time
	EndsAt    time.Time        // not in
	StartsOn  measure.Day      // the garden's day of StartsAt
	HostID    uuid.UUID        // a member; zero: none yet
	Capacity  measure.Quantity // most that can be taken in; empty value: not stated
	CapacityG measure.Grams    // worked out from Capacity; 0: not stated
	Status    WindowStatus
	Note      string // for everyone: it stands in the calendar feed
	CreatedAt time.Time
	ChangedAt time.Time
	Version   int
}

// Work checks the window and works out its capacity in grams. It refuses with
// window.invalid, naming each field at fault.
func (w Window) Work() (Window, error) {
	var f Faults
	if w.SiteID == uuid.Nil {
		f.Add("window.invalid", "/site_id", "site_id: must be set")
	}
	if long := w.EndsAt.Sub(w.StartsAt); long <= 0 || long > LongestWindow {
		f.Add("window.invalid", "/ends_at", "ends_at: must come after the start, within seven days; got %s to %s",
			w.StartsAt.UTC().Format(time.RFC3339), w.EndsAt.UTC().Format(time.RFC3339))
	}
	if !oneOf(w.Status, WindowStatuses) {
		f.Add("window.invalid", "/status", "status: must be one of %v; got %q", WindowStatuses, w.Status)
	}
	w.CapacityG = 0
	if w.Capacity.Value != "" {
		g, err := w.Capacity.Grams()
		if err != nil || g < 1 || g > 100*MaxLot {
			f.Add("window.invalid", "/capacity", "capacity: must be a mass between 1 g and 200 t, such as 60 kg; got %q %q", w.Capacity.Value, w.Capacity.Unit)
		}
		w.CapacityG = g
	}
	f.Keep(CheckText("window.invalid", "/note", w.Note, 500))
	return w, f.Err()
}

// Takes tells whether a window can be promised so much more, when so much is
// promised or has come already. It refuses with window.closed one that is not
// held or is over, and with window.full.
func (w Window) Takes(more, already measure.Grams, now time.Time) error {
	switch {
	case w.Status == WindowClosed:
		return Refuse("window.closed", "/window_id", "window_id: this window is not held")
	case !now.Before(w.EndsAt):
		return Refuse("window.closed", "/window_id", "window_id: this window ended at %s", w.EndsAt.UTC().Format(time.RFC3339))
	case w.Status == WindowFull:
		return Refuse("window.full", "/window_id", "window_id: this window is full")
	case w.CapacityG > 0 && already+more > w.CapacityG:
		return Refuse("window.full", "/window_id", "window_id: this window takes %d g, of which %d g are left; got %d g",
			w.CapacityG, max(0, w.CapacityG-already), more)
	}
	return nil
}
