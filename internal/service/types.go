package service

import "midden/internal/store"

// The edges speak these types of the store without knowing the store.
type (
	// Page asks for part of a list.
	Page = store.Page
	// List is part of a list.
	List[T any] = store.List[T]
	// Mine is a garden and the person's membership in it.
	Mine = store.Mine
	// LotOnHand is a lot with what is left of it.
	LotOnHand = store.LotOnHand
	// WindowLoad is a drop-off window with what is promised for it and what came.
	WindowLoad = store.WindowLoad
	// WindowFilter narrows a list of drop-off windows.
	WindowFilter = store.WindowFilter
	// PledgeFilter narrows a list of pledges.
	PledgeFilter = store.PledgeFilter
	// LotFilter narrows a list of lots.
	LotFilter = store.LotFilter
	// Standing tells what is in use from what no longer is.
	Standing = store.Standing
	// MemberFilter narrows a list of members.
	MemberFilter = store.MemberFilter
	// BinFilter narrows a list of bins.
	BinFilter = store.BinFilter
	// BinDays narrows a list of records of bins.
	BinDays = store.BinDays
	// LineageStep is one transfer on the way to or from a bin.
	LineageStep = store.LineageStep
	// CastingsOnHand is a castings lot with what is left of it.
	CastingsOnHand = store.CastingsOnHand
	// CastingsFilter narrows a list of castings lots.
	CastingsFilter = store.CastingsFilter
	// GiveawayFilter narrows a list of giveaways.
	GiveawayFilter = store.GiveawayFilter
	// PlanRecord is a plan with all that is kept of it but its tasks.
	PlanRecord = store.PlanRecord
)

// Standings; the empty one is both.
const (
	Active = store.Active
	Left   = store.Left
)
