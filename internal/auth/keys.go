package auth

import (
	"crypto/ed25519"
	"crypto/hkdf"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// KeyFile is the name of the key file that an embedded server keeps in its
// data folder.
const KeyFile = "signing-keys"

// Keys are the Ed25519 keys that access tokens may be signed with. The first
// signs; the others verify what was signed before a rotation. To rotate, put a
// new seed in front, and drop the old one once its last token has expired.
type Keys struct {
	list []key
}

type key struct {
	id      string
	private ed25519.PrivateKey
}

// ParseKeys reads one or more 32-byte seeds in base64, with or without padding
// and in either alphabet, separated by commas or white space. An error tells
// the place of the seed at fault and never the seed.
func ParseKeys(text string) (Keys, error) {
	seeds := strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(", \t\r\n", r) })
	var ks Keys
	for i, s := range seeds {
		seed, err := decodeSeed(s)
		if err != nil {
			return Keys{}, fmt.Errorf("signing key %d: must be a seed of %d bytes in base64", i+1, ed25519.SeedSize)
		}
		k := newKey(seed)
		if _, twice := ks.public(k.id); twice {
			return Keys{}, fmt.Errorf("signing key %d: is there twice", i+1)
		}
		ks.list = append(ks.list, k)
	}
	if len(ks.list) == 0 {
		return Keys{}, errors.New("signing keys: at least one seed is needed")
	}
	return ks, nil
}

// NewSeed is a fresh seed as ParseKeys reads it.
func NewSeed() string { return base64.RawURLEncoding.EncodeToString(random(ed25519.SeedSize)) }

// LoadOrMakeKeys reads the key file in dir, or makes one with a fresh seed that
// only the owner may read. A file that others may read is refused: whoever
// reads it can sign in as anybody.
func LoadOrMakeKeys(dir string) (Keys, error) {
	path := filepath.Join(dir, KeyFile)
	ks, err := loadKeys(path)
	if !errors.Is(err, fs.ErrNotExist) {
		return ks, err
	}
	if err := makeKeyFile(dir, path); err != nil {
		return Keys{}, fmt.Errorf("signing keys: %w", err)
	}
	return loadKeys(path)
}

func loadKeys(path string) (Keys, error) {
	info, err := os.Stat(path)
	if err != nil {
		return Keys{}, fmt.Errorf("signing keys: %w", err)
	}
	if info.Mode().Perm()&0o077 != 0 {
		return Keys{}, fmt.Errorf("signing keys: %s may be read by others (mode %04o); make it 0600, and make new keys if somebody did", path, info.Mode().Perm())
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return Keys{}, fmt.Errorf("signing keys: %w", err)
	}
	ks, err := ParseKeys(string(text))
	if err != nil {
		return Keys{}, fmt.Errorf("%s: %w", path, err)
	}
	return ks, nil
}

// makeKeyFile leaves a whole file or none: a temporary file is written, then
// linked under its name. The link fails when somebody else was quicker, and
// theirs is the one to use.
func makeKeyFile(dir, path string) (err error) {
	f, err := os.CreateTemp(dir, KeyFile+".*") // made with mode 0600
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.Remove(f.Name())) }()
	_, err = f.WriteString(NewSeed() + "\n")
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	if err = os.Link(f.Name(), path); errors.Is(err, fs.ErrExist) {
		return nil
	}
	return err
}

func decodeSeed(s string) ([]byte, error) {
	s = strings.TrimRight(strings.NewReplacer("+", "-", "/", "_").Replace(s), "=")
	seed, err := base64.RawURLEncoding.DecodeString(s)
	if err == nil && len(seed) != ed25519.SeedSize {
		err = errors.New("wrong length")
	}
	return seed, err
}

func newKey(seed []byte) key {
	private := ed25519.NewKeyFromSeed(seed)
	return key{id: thumbprint(private.Public().(ed25519.PublicKey)), private: private}
}

// thumbprint is the key's id: RFC 7638 over the members of RFC 8037, section 2.
func thumbprint(public ed25519.PublicKey) string {
	x := base64.RawURLEncoding.EncodeToString(public)
	sum := sha256.Sum256([]byte(`{"crv":"Ed25519","kty":"OKP","x":"` + x + `"}`))
	return base64.RawURLEncoding.EncodeToString(sum[:])
}

func (ks Keys) public(id string) (ed25519.PublicKey, bool) {
	for _, k := range ks.list {
		if k.id == id {
			return k.private.Public().(ed25519.PublicKey), true
		}
	}
	return nil, false
}

// Derive makes a 32-byte secret for another purpose, such as signing list
// cursors, that every server with the same signing key has too.
func (ks Keys) Derive(purpose string) ([]byte, error) {
	return hkdf.Key(sha256.New, ks.list[0].private.Seed(), nil, purpose, sha256.Size)
}

// IDs are the key ids, the signing one first. They are no secret.
func (ks Keys) IDs() []string {
	ids := make([]string, len(ks.list))
	for i, k := range ks.list {
		ids[i] = k.id
	}
	return ids
}

// String and GoString keep private keys out of logs.
func (ks Keys) String() string   { return fmt.Sprintf("%d signing keys", len(ks.list)) }
func (ks Keys) GoString() string { return ks.String() }
