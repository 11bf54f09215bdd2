package service

import (
	"github.com/google/uuid"

	"midden/internal/farm"
)

// anyone is the action that every member of a garden may do.
const anyone = farm.ReadReports

// authorise refuses with role.forbidden what the member's role does not allow.
// Rules that depend on the thing itself are the use case's to add.
func authorise(m farm.Member, a farm.Action) error {
	if m.Role.May(a) {
		return nil
	}
	return farm.Refuse("role.forbidden", "", "your role, %s, may not do this (%s)", m.Role, a)
}

// noGarden is the answer for a garden that does not exist and for one that is
// somebody else's: the two must look the same.
func noGarden(id uuid.UUID) error {
	return farm.Refuse("garden.not_found", "", "garden %s: none of yours has this id", id)
}

// checkVersion refuses with version.stale when someone else changed the thing
// since the person read it.
func checkVersion(what string, got, want int) error {
	if got == want {
		return nil
	}
	return farm.Refuse("version.stale", "", "%s: changed since you read it; you have version %d, it is at %d", what, want, got)
}
