package ledger

import "math/big"

// Squares is a sum of squares too large for 64 bits, as a decimal string so
// that totals stay comparable. The zero value "" is zero.
type Squares string

func (s Squares) int() *big.Int {
	n := new(big.Int)
	if s != "" {
		n.SetString(string(s), 10)
	}
	return n
}

func squaresOf(n *big.Int) Squares {
	if n.Sign() == 0 {
		return ""
	}
	return Squares(n.String())
}

func square(v, sign int64) Squares {
	n := big.NewInt(v)
	n.Mul(n, n)
	return squaresOf(n.Mul(n, big.NewInt(sign)))
}

func (s Squares) plus(o Squares) Squares {
	return squaresOf(new(big.Int).Add(s.int(), o.int()))
}

// Float is the sum for statistics.
func (s Squares) Float() float64 {
	f, _ := new(big.Float).SetInt(s.int()).Float64()
	return f
}

// String is the sum in decimal; "0" when there is none.
func (s Squares) String() string { return s.int().String() }

// ParseSquares reads a whole decimal number.
func ParseSquares(text string) (Squares, bool) {
	n, ok := new(big.Int).SetString(text, 10)
	if !ok {
		return "", false
	}
	return squaresOf(n), true
}
