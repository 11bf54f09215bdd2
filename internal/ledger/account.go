package ledger

import (
	"fmt"
	"regexp"
	"strings"

	"github.com/google/uuid"
)

// AccountKind is what an account stands for.
type AccountKind string

// Kinds of account. Source, Recipient, Outside, Growth, Conversion and Water
// balance what a garden can't count; they may go below zero.
const (
	Lot        AccountKind = "lot"
	Section    AccountKind = "section"
	Source     AccountKind = "source"
	Bedding    AccountKind = "bedding"
	Overflow   AccountKind = "overflow"
	Spoiled    AccountKind = "spoiled"
	Rejected   AccountKind = "rejected"
	Castings   AccountKind = "castings"
	Recipient  AccountKind = "recipient"
	Outside    AccountKind = "outside"
	Growth     AccountKind = "growth"
	Conversion AccountKind = "conversion"
	Water      AccountKind = "water"
)

// Kinds lists every kind of account in a fixed order.
var Kinds = []AccountKind{Lot, Section, Source, Bedding, Overflow, Spoiled, Rejected, Castings,
	Recipient, Outside, Growth, Conversion, Water}

// Party is the kind of giver or receiver behind a source or recipient account.
type Party string

// Parties. Only a recipient is a bed or a class of outsider; only a source is unknown.
const (
	Household Party = "household"
	Member    Party = "member"
	Bed       Party = "bed"
	Outsider  Party = "outsider" // a class of people, such as "school"
	Unknown   Party = "unknown"
)

// Account is where grams come from or go to. It is comparable: use it as a
// map key. Make one with the functions below, not by hand.
type Account struct {
	Kind  AccountKind
	Party Party     // source and recipient only
	ID    uuid.UUID // lot, batch, place, section, bin, household, member or bed
	Bin   uuid.UUID // the section's bin; sections only
	Class string    // outsiders only
}

// LotAccount is a lot of scraps.
func LotAccount(lot uuid.UUID) Account { return Account{Kind: Lot, ID: lot} }

// SectionAccount is a section of a bin.
func SectionAccount(bin, section uuid.UUID) Account {
	return Account{Kind: Section, Bin: bin, ID: section}
}

// BeddingAccount is a batch of bedding.
func BeddingAccount(batch uuid.UUID) Account { return Account{Kind: Bedding, ID: batch} }

// OverflowAccount is a place that takes what the bins can't.
func OverflowAccount(place uuid.UUID) Account { return Account{Kind: Overflow, ID: place} }

// SpoiledAccount is what went bad before a worm had it.
func SpoiledAccount() Account { return Account{Kind: Spoiled} }

// RejectedAccount is what the garden turned away.
func RejectedAccount() Account { return Account{Kind: Rejected} }

// CastingsAccount is a lot of castings.
func CastingsAccount(lot uuid.UUID) Account { return Account{Kind: Castings, ID: lot} }

// OutsideAccount is the world beyond the garden.
func OutsideAccount() Account { return Account{Kind: Outside} }

// GrowthAccount balances worms born, died or found in a bin.
func GrowthAccount(bin uuid.UUID) Account { return Account{Kind: Growth, ID: bin} }

// ConversionAccount balances what a section turned into castings, gas and water.
func ConversionAccount(section uuid.UUID) Account { return Account{Kind: Conversion, ID: section} }

// WaterAccount balances a lot's weight lost or gained between weighings.
func WaterAccount(lot uuid.UUID) Account { return Account{Kind: Water, ID: lot} }

// HouseholdSource is a household that brings scraps.
func HouseholdSource(id uuid.UUID) Account {
	return Account{Kind: Source, Party: Household, ID: id}
}

// MemberSource is a member who brings scraps.
func MemberSource(id uuid.UUID) Account { return Account{Kind: Source, Party: Member, ID: id} }

// UnknownSource is a giver nobody noted.
func UnknownSource() Account { return Account{Kind: Source, Party: Unknown} }

// RecipientAccount is a household, member or bed that receives castings.
func RecipientAccount(p Party, id uuid.UUID) Account {
	return Account{Kind: Recipient, Party: p, ID: id}
}

// OutsiderRecipient is a class of outsiders, a short lower-case word.
func OutsiderRecipient(class string) Account {
	return Account{Kind: Recipient, Party: Outsider, Class: class}
}

var word = regexp.MustCompile(`^[a-z][a-z0-9_]{0,39}$`)

// String is the text form, such as "lot:<uuid>", "section:<bin>/<section>",
// "source:household/<uuid>", "source:unknown" or "spoiled". ParseAccount reads it.
func (a Account) String() string {
	switch a.Kind {
	case Spoiled, Rejected, Outside:
		return string(a.Kind)
	case Section:
		return "section:" + a.Bin.String() + "/" + a.ID.String()
	case Source, Recipient:
		switch a.Party {
		case Unknown:
			return string(a.Kind) + ":unknown"
		case Outsider:
			return string(a.Kind) + ":outsider/" + a.Class
		}
		return string(a.Kind) + ":" + string(a.Party) + "/" + a.ID.String()
	}
	return string(a.Kind) + ":" + a.ID.String()
}

// ParseAccount reads the text form; it is the inverse of String and refuses
// every other spelling.
func ParseAccount(s string) (Account, error) {
	a, ok := parseAccount(s)
	if !ok || a.String() != s {
		return Account{}, fmt.Errorf("ledger: not an account: %q", s)
	}
	return a, nil
}

func parseAccount(s string) (Account, bool) {
	kind, rest, _ := strings.Cut(s, ":")
	a := Account{Kind: AccountKind(kind)}
	var err error
	switch a.Kind {
	case Spoiled, Rejected, Outside:
		return a, rest == ""
	case Section:
		bin, section, _ := strings.Cut(rest, "/")
		if a.Bin, err = uuid.Parse(bin); err != nil {
			return a, false
		}
		a.ID, err = uuid.Parse(section)
		return a, err == nil
	case Source, Recipient:
		party, id, _ := strings.Cut(rest, "/")
		a.Party = Party(party)
		switch {
		case a.Party == Unknown && a.Kind == Source:
			return a, true
		case a.Party == Outsider && a.Kind == Recipient:
			a.Class = id
			return a, word.MatchString(id)
		case a.Party == Household, a.Party == Member, a.Party == Bed && a.Kind == Recipient:
			a.ID, err = uuid.Parse(id)
			return a, err == nil
		}
		return a, false
	case Lot, Bedding, Overflow, Castings, Growth, Conversion, Water:
		a.ID, err = uuid.Parse(rest)
		return a, err == nil
	}
	return a, false
}

// NeverNegative tells whether the account's stock of s may not fall below zero
// at the end of any day: lots, worms in a section, castings and bedding batches.
func (a Account) NeverNegative(s Substance) bool {
	switch a.Kind {
	case Lot, Castings, Bedding:
		return true
	case Section:
		return s.Class() == WormClass
	}
	return false
}

// RolledUp tells whether the account has daily roll-ups. A single lot, bedding
// batch or castings lot has its stock by day instead, and nothing to add up.
func (a Account) RolledUp() bool {
	return a.Kind != Lot && a.Kind != Castings && a.Kind != Bedding
}
