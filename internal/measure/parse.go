package measure

import (
	"fmt"
	"strings"
)

// spelled maps what people write in a log to a unit. A gallon is the US
// liquid gallon. A ton is left out: short, long and metric tons differ.
var spelled = map[string]Unit{
	"g": Gram, "gram": Gram, "grams": Gram, "gramme": Gram, "grammes": Gram,
	"kg": Kilogram, "kgs": Kilogram, "kilo": Kilogram, "kilos": Kilogram, "kilogram": Kilogram,
	"kilograms": Kilogram, "kilogramme": Kilogram, "kilogrammes": Kilogram,
	"lb": Pound, "lbs": Pound, "pound": Pound, "pounds": Pound,
	"oz": Ounce, "ounce": Ounce, "ounces": Ounce,
	"short ton": ShortTon, "short tons": ShortTon, "short_ton": ShortTon,
	"ml": Millilitre, "millilitre": Millilitre, "millilitres": Millilitre, "milliliter": Millilitre,
	"milliliters": Millilitre,
	"l":           Litre, "litre": Litre, "litres": Litre, "liter": Litre, "liters": Litre,
	"gal": GallonUS, "gals": GallonUS, "gallon": GallonUS, "gallons": GallonUS, "us gal": GallonUS,
	"us gallon": GallonUS, "us gallons": GallonUS, "gal_us": GallonUS,
	"yd3": CubicYard, "cubic yard": CubicYard, "cubic yards": CubicYard,
	"m3": CubicMetre, "m³": CubicMetre, "cubic metre": CubicMetre, "cubic metres": CubicMetre,
	"cubic meter": CubicMetre, "cubic meters": CubicMetre,
}

// ParseUnit reads a unit as people spell it: any case, singular or plural,
// with or without a closing full stop. It also reads every wire code. It fails
// with ErrUnit; containers such as buckets are no units of measure.
func ParseUnit(s string) (Unit, error) {
	word := strings.Join(strings.Fields(strings.ToLower(s)), " ")
	if u, ok := spelled[strings.TrimSuffix(word, ".")]; ok {
		return u, nil
	}
	return "", fmt.Errorf("%w: %q", ErrUnit, s)
}
