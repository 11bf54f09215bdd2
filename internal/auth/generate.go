package auth

import (
	"encoding/binary"
	"strings"
)

// generatedWords × log2(512) is 63 bits: beyond guessing, yet easy to read out
// over a garden fence.
const generatedWords = 7

// GeneratePassword makes a first password of random words for somebody else to
// change: "barrow-clover-…". It passes CheckNew.
func GeneratePassword() string {
	chosen := make([]string, generatedWords)
	for i := range chosen {
		// 512 divides 65536, so no word is likelier than another.
		chosen[i] = words[binary.BigEndian.Uint16(random(2))%uint16(len(words))]
	}
	return strings.Join(chosen, "-")
}
