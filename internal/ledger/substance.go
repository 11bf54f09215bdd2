package ledger

import (
	"fmt"
	"strings"

	"midden/internal/farm"
)

// Class is the family of a substance.
type Class string

// Classes of substance.
const (
	ScrapClass    Class = "scraps"
	BeddingClass  Class = "bedding"
	WormClass     Class = "worms"
	CastingsClass Class = "castings"
)

// Substance is what is moved: "scraps/<material key>", "bedding/<kind>",
// "worms/<species>" or "castings". An entry balances in each one separately.
type Substance string

// CastingsSubstance is finished castings.
const CastingsSubstance Substance = "castings"

// Scraps is a scrap material by its key.
func Scraps(material string) Substance { return Substance("scraps/" + material) }

// BeddingOf is a kind of bedding by its key.
func BeddingOf(kind string) Substance { return Substance("bedding/" + kind) }

// Worms is live worms of a species group.
func Worms(s farm.Species) Substance { return Substance("worms/" + string(s)) }

// Class is the family of s.
func (s Substance) Class() Class {
	c, _, _ := strings.Cut(string(s), "/")
	return Class(c)
}

// Key is the material, kind or species of s; empty for castings.
func (s Substance) Key() string {
	_, k, _ := strings.Cut(string(s), "/")
	return k
}

// ParseSubstance reads the text form and refuses every other spelling.
func ParseSubstance(text string) (Substance, error) {
	s := Substance(text)
	switch s.Class() {
	case ScrapClass, BeddingClass, WormClass:
		if word.MatchString(s.Key()) {
			return s, nil
		}
	case CastingsClass:
		if s == CastingsSubstance {
			return s, nil
		}
	}
	return "", fmt.Errorf("ledger: not a substance: %q", text)
}
