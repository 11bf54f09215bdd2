package auth_test

import (
	"context"
	"errors"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"pgregory.net/rapid"

	"midden/internal/auth"
	"midden/internal/farm"
)

// cheap keeps the tests that are not about cost quick.
var cheap = auth.PasswordOptions{Cost: auth.Cost{MemoryKiB: 64, Passes: 1, Lanes: 1}}

func TestAPasswordIsKnownAgainAndNoOtherIs(t *testing.T) {
	t.Parallel()
	p := auth.NewPasswords(cheap)
	rapid.Check(t, func(r *rapid.T) {
		word := rapid.StringN(auth.MinPassword, auth.MaxPassword, -1).Draw(r, "password")
		other := rapid.StringN(1, auth.MaxPassword, -1).Draw(r, "other")
		stored, err := p.Hash(context.Background(), word)
		if err != nil {
			r.Fatal(err)
		}
		if ok, again, err := p.Verify(context.Background(), stored, word); !ok || again || err != nil {
			r.Fatalf("own password: ok %v, rehash %v, %v", ok, again, err)
		}
		if ok, _, err := p.Verify(context.Background(), stored, other); ok != (other == word) || err != nil {
			r.Fatalf("other password: ok %v, %v", ok, err)
		}
	})
}

func TestTwoHashesOfAPasswordDiffer(t *testing.T) {
	t.Parallel()
	p := auth.NewPasswords(cheap)
	a, errA := p.Hash(context.Background(), "three damp sponges")
	b, errB := p.Hash(context.Background(), "three damp sponges")
	if errA != nil || errB != nil || a == b {
		t.Fatalf("%q, %q: %v, %v", a, b, errA, errB)
	}
}

// The cost of the OWASP Password Storage Cheat Sheet (argon2id, m=19456, t=2,
// p=1), in the PHC string format.
func TestTheUsualCostIsWhatOWASPAsksFor(t *testing.T) {
	t.Parallel()
	stored, err := auth.NewPasswords(auth.PasswordOptions{}).Hash(context.Background(), "three damp sponges")
	if err != nil || !strings.HasPrefix(stored, "$argon2id$v=19$m=19456,t=2,p=1$") {
		t.Fatalf("%q, %v", stored, err)
	}
}

// Encoded hashes from test.c of the argon2 reference implementation (from memory), whose
// passwords and salts are "password" and "somesalt". The test vector of
// RFC 9106, section 5.3, needs a secret and associated data, which the library
// does not offer.
func TestHashesOfTheReferenceImplementationVerify(t *testing.T) {
	t.Parallel()
	p := auth.NewPasswords(cheap)
	for name, stored := range map[string]string{
		"64 MiB":    "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc",
		"256 KiB":   "$argon2id$v=19$m=256,t=2,p=1$c29tZXNhbHQ$nf65EOgLrQMR/uIPnA4rEsF5h7TKyQwu9U1bMCHGi/4",
		"two lanes": "$argon2id$v=19$m=256,t=2,p=2$c29tZXNhbHQ$bQk8UB/VmZZF4Oo79iDXuL5/0ttZwg2f/5U52iv1cDc",
	} {
		if ok, again, err := p.Verify(context.Background(), stored, "password"); !ok || !again || err != nil {
			t.Errorf("%s: ok %v, rehash %v, %v", name, ok, again, err)
		}
		if ok, _, err := p.Verify(context.Background(), stored, "Password"); ok || err != nil {
			t.Errorf("%s: a wrong password: ok %v, %v", name, ok, err)
		}
	}
}

func TestADearerCostAsksForANewHash(t *testing.T) {
	t.Parallel()
	stored, err := auth.NewPasswords(cheap).Hash(context.Background(), "three damp sponges")
	if err != nil {
		t.Fatal(err)
	}
	dearer := auth.NewPasswords(auth.PasswordOptions{Cost: auth.Cost{MemoryKiB: 128, Passes: 1, Lanes: 1}})
	if ok, again, err := dearer.Verify(context.Background(), stored, "three damp sponges"); !ok || !again || err != nil {
		t.Fatalf("ok %v, rehash %v, %v", ok, again, err)
	}
	if _, again, err := dearer.Verify(context.Background(), stored, "four dry eggshells"); again || err != nil {
		t.Fatalf("a wrong password asks for a new hash: %v, %v", again, err)
	}
}

func TestAnUnknownLoginNeverSignsIn(t *testing.T) {
	t.Parallel()
	p := auth.NewPasswords(cheap)
	for _, word := range []string{"", "x", "three damp sponges", strings.Repeat("a", 5000)} {
		if ok, again, err := p.Verify(context.Background(), "", word); ok || again || err != nil {
			t.Errorf("%.20q: ok %v, rehash %v, %v", word, ok, again, err)
		}
	}
}

func TestAnUnknownLoginWaitsForASlotLikeAKnownOne(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		p := auth.NewPasswords(cheap)
		defer auth.HoldSlots(p)()
		if _, _, err := p.Verify(t.Context(), "", "three damp sponges"); farm.CodeOf(err) != "server.busy" {
			t.Fatalf("got %v", err)
		}
	})
}

func TestBeyondItsSlotsAHashIsRefusedAsBusyAndSoonAfterServed(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		o := cheap
		o.Wait = 3 * time.Second
		p := auth.NewPasswords(o)
		free := auth.HoldSlots(p)
		began := time.Now()
		_, err := p.Hash(t.Context(), "three damp sponges")
		if waited := time.Since(began); farm.CodeOf(err) != "server.busy" || waited != o.Wait {
			t.Fatalf("%v after %v", err, waited)
		}
		free()
		if _, err := p.Hash(t.Context(), "three damp sponges"); err != nil {
			t.Fatal(err)
		}
	})
}

func TestSomebodyWhoLeavesTheQueueIsNotToldThatItIsBusy(t *testing.T) {
	t.Parallel()
	p := auth.NewPasswords(cheap)
	defer auth.HoldSlots(p)()
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := p.Hash(ctx, "three damp sponges"); !errors.Is(err, context.Canceled) || farm.AsError(err) != nil {
		t.Fatalf("got %v", err)
	}
}

func TestNewPasswordsHaveTwelveToTwoHundredCharacters(t *testing.T) {
	t.Parallel()
	varied := func(n int) string { return strings.Repeat("acegikmo", n/8+1)[:n] }
	for word, want := range map[string]farm.Code{
		varied(11):                    "password.length",
		varied(12):                    "",
		varied(200):                   "",
		varied(201):                   "password.length",
		"":                            "password.length",
		"çéñøßæþđłŧŋħ":                "", // characters, not bytes
		"fifteen bytes \xff\xfe here": "password.length",
		"aaaaaaaaaaaaaaaa":            "password.weak",
		"12341234123412341":           "password.weak",
		"12345123451234512":           "",
	} {
		err := auth.CheckNew("/new_password", word)
		if farm.CodeOf(err) != want {
			t.Errorf("%.20q (%d bytes): got %v, want %q", word, len(word), err, want)
		}
		if e := farm.AsError(err); e != nil && (e.Field != "/new_password" || word != "" && strings.Contains(e.Message, word)) {
			t.Errorf("%.20q: field %q, message %q", word, e.Field, e.Message)
		}
	}
}

func TestADamagedHashIsAFaultThatDoesNotShowIt(t *testing.T) {
	t.Parallel()
	p := auth.NewPasswords(cheap)
	const salt, key = "c29tZXNhbHQ", "nf65EOgLrQMR/uIPnA4rEsF5h7TKyQwu9U1bMCHGi/4"
	for name, stored := range map[string]string{
		"another kind":        "$argon2i$v=19$m=256,t=2,p=1$" + salt + "$" + key,
		"an older version":    "$argon2id$v=16$m=256,t=2,p=1$" + salt + "$" + key,
		"all of the memory":   "$argon2id$v=19$m=4294967295,t=2,p=1$" + salt + "$" + key,
		"no memory":           "$argon2id$v=19$m=0,t=2,p=1$" + salt + "$" + key,
		"no pass":             "$argon2id$v=19$m=256,t=0,p=1$" + salt + "$" + key,
		"endless passes":      "$argon2id$v=19$m=256,t=999999,p=1$" + salt + "$" + key,
		"no lane":             "$argon2id$v=19$m=256,t=2,p=0$" + salt + "$" + key,
		"a parameter missing": "$argon2id$v=19$m=256,t=2$" + salt + "$" + key,
		"a wrong order":       "$argon2id$v=19$t=2,m=256,p=1$" + salt + "$" + key,
		"padding":             "$argon2id$v=19$m=256,t=2,p=1$" + salt + "=$" + key,
		"a short key":         "$argon2id$v=19$m=256,t=2,p=1$" + salt + "$AAAA",
		"an empty key":        "$argon2id$v=19$m=256,t=2,p=1$" + salt + "$",
		"more behind it":      "$argon2id$v=19$m=256,t=2,p=1$" + salt + "$" + key + "$",
		"plain text":          "three damp sponges",
	} {
		ok, _, err := p.Verify(context.Background(), stored, "password")
		if ok || err == nil || farm.AsError(err) != nil || strings.Contains(err.Error(), stored) {
			t.Errorf("%s: ok %v, %v", name, ok, err)
		}
	}
}

func FuzzStoredPasswords(f *testing.F) {
	f.Add("$argon2id$v=19$m=256,t=2,p=1$c29tZXNhbHQ$nf65EOgLrQMR/uIPnA4rEsF5h7TKyQwu9U1bMCHGi/4")
	f.Add("$argon2id$v=19$m=,t=,p=$$")
	f.Fuzz(func(t *testing.T, stored string) {
		again, err := auth.Reread(stored)
		if err == nil && again != stored {
			t.Fatalf("%q is read as %q", stored, again)
		}
	})
}

func TestGeneratedPasswordsAreLongVariedAndNeverTheSame(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	for range 1000 {
		word := auth.GeneratePassword()
		if err := auth.CheckNew("", word); err != nil {
			t.Fatalf("%q: %v", word, err)
		}
		if seen[word] || len(strings.Split(word, "-")) != 7 {
			t.Fatalf("%q", word)
		}
		seen[word] = true
	}
}

func TestTheWordListGivesNineBitsAWord(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	for _, w := range auth.Words {
		if len(w) < 3 || len(w) > 8 || strings.Trim(w, "abcdefghijklmnopqrstuvwxyz") != "" {
			t.Errorf("%q is not three to eight plain letters", w)
		}
		seen[w] = true
	}
	if len(seen) != 512 || len(auth.Words) != 512 {
		t.Errorf("%d words, %d different; must be 512", len(auth.Words), len(seen))
	}
}

func BenchmarkVerifyAtTheUsualCost(b *testing.B) {
	p := auth.NewPasswords(auth.PasswordOptions{})
	stored, err := p.Hash(context.Background(), "three damp sponges")
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if ok, _, err := p.Verify(context.Background(), stored, "three damp sponges"); !ok || err != nil {
			b.Fatal(ok, err)
		}
	}
}
