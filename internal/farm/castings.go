package farm

// CastingsDensity is the bulk density of castings, used when a person counts
// tubs and states none: 1000 lb to the cubic yard, the planning figure for
// finished compost (NRAES-54, from memory); 0.4 to 0.9 kg/L by moisture.
var CastingsDensity = Figure{Value: 593, Low: 400, High: 900, Source: "NRAES-54, On-Farm Composting Handbook, 1992", Trust: TrustMemory}
