package auth

import (
	"encoding/base64"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"golang.org/x/crypto/argon2"
)

// phc is an argon2id hash in the PHC string format:
// $argon2id$v=19$m=19456,t=2,p=1$salt$key, base64 without padding.
type phc struct {
	cost Cost
	salt []byte
	key  []byte
}

func (h phc) String() string {
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version,
		h.cost.MemoryKiB, h.cost.Passes, h.cost.Lanes, b64.EncodeToString(h.salt), b64.EncodeToString(h.key))
}

var b64 = base64.RawStdEncoding.Strict()

// errPHC never repeats what was stored: a hash does not belong in a log.
var errPHC = errors.New("auth: a stored password is no argon2id PHC string that this program makes")

// parsePHC reads a stored hash. The bounds keep a damaged row from asking for
// all memory of the computer.
func parsePHC(s string) (phc, error) {
	parts := strings.Split(s, "$")
	if len(parts) != 6 || parts[0] != "" || parts[1] != "argon2id" || parts[2] != "v="+strconv.Itoa(argon2.Version) {
		return phc{}, errPHC
	}
	params := strings.Split(parts[3], ",")
	if len(params) != 3 {
		return phc{}, errPHC
	}
	m, errM := parameter(params[0], "m", 8, 1<<20)
	t, errT := parameter(params[1], "t", 1, 32)
	p, errP := parameter(params[2], "p", 1, 64)
	salt, errSalt := b64.DecodeString(parts[4])
	key, errKey := b64.DecodeString(parts[5])
	if errors.Join(errM, errT, errP, errSalt, errKey) != nil ||
		len(salt) < 8 || len(salt) > 64 || len(key) < 16 || len(key) > 64 {
		return phc{}, errPHC
	}
	return phc{cost: Cost{MemoryKiB: m, Passes: t, Lanes: uint8(p)}, salt: salt, key: key}, nil
}

func parameter(s, name string, least, most uint64) (uint32, error) {
	digits, ok := strings.CutPrefix(s, name+"=")
	if !ok {
		return 0, errPHC
	}
	n, err := strconv.ParseUint(digits, 10, 32)
	if err != nil || n < least || n > most {
		return 0, errPHC
	}
	return uint32(n), nil
}
