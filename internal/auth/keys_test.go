package auth_test

import (
	"encoding/base64"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"midden/internal/auth"
)

// The key of RFC 8037, appendix A.1, and its thumbprint of appendix A.3.
func TestAKeyIsNamedByItsThumbprint(t *testing.T) {
	t.Parallel()
	keys, err := auth.ParseKeys("nWGxne_9WmC6hEr0kuwsxERJxWl7MmkZcDusAxyuf2A")
	if err != nil {
		t.Fatal(err)
	}
	if got := keys.IDs(); len(got) != 1 || got[0] != "kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k" {
		t.Fatalf("got %v", got)
	}
}

func TestSeedsAreReadInEitherAlphabetAndWithPadding(t *testing.T) {
	t.Parallel()
	raw := make([]byte, 32)
	for i := range raw {
		raw[i] = 0xff - byte(i) // has both + and / in the standard alphabet
	}
	var ids []string
	for _, e := range []*base64.Encoding{base64.StdEncoding, base64.RawStdEncoding, base64.URLEncoding, base64.RawURLEncoding} {
		keys, err := auth.ParseKeys(" " + e.EncodeToString(raw) + "\n")
		if err != nil {
			t.Fatal(err)
		}
		ids = append(ids, keys.IDs()...)
	}
	for _, id := range ids {
		if id != ids[0] {
			t.Fatalf("one seed, several keys: %v", ids)
		}
	}
}

func TestWrongKeysAreRefusedWithoutShowingThem(t *testing.T) {
	t.Parallel()
	good := auth.NewSeed()
	for name, c := range map[string]struct{ text, says string }{
		"none":      {" , \n", "at least one"},
		"too short": {good + "," + good[:20], "signing key 2"},
		"too long":  {good + "AAAA", "signing key 1"},
		"not text":  {"!" + good[1:], "signing key 1"},
		"twice":     {good + " " + good, "signing key 2"},
	} {
		_, err := auth.ParseKeys(c.text)
		if err == nil || !strings.Contains(err.Error(), c.says) || strings.Contains(err.Error(), good[:10]) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestKeysDoNotPrintThemselves(t *testing.T) {
	t.Parallel()
	seed := auth.NewSeed()
	keys, err := auth.ParseKeys(seed)
	if err != nil {
		t.Fatal(err)
	}
	for _, verb := range []string{"%v", "%+v", "%#v", "%s"} {
		if got := fmt.Sprintf(verb, keys); got != "1 signing keys" {
			t.Errorf("%s: %s", verb, got)
		}
	}
}

func TestADerivedSecretIsTheSameForTheSameKeyAndPurposeOnly(t *testing.T) {
	t.Parallel()
	derive := func(text, purpose string) string {
		keys, err := auth.ParseKeys(text)
		if err != nil {
			t.Fatal(err)
		}
		secret, err := keys.Derive(purpose)
		if err != nil || len(secret) != 32 {
			t.Fatalf("%d bytes, %v", len(secret), err)
		}
		return string(secret)
	}
	a, b := auth.NewSeed(), auth.NewSeed()
	if derive(a, "cursors") != derive(a+","+b, "cursors") {
		t.Error("an old key behind the signing one changes the secret")
	}
	if derive(a, "cursors") == derive(b, "cursors") || derive(a, "cursors") == derive(a, "pages") {
		t.Error("another key or purpose gives the same secret")
	}
}

func TestTheKeyFileIsMadeOnceForItsOwnerAlone(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	// Several at once, as two processes might.
	ids := make([]string, 8)
	var wg sync.WaitGroup
	for i := range ids {
		wg.Go(func() {
			keys, err := auth.LoadOrMakeKeys(dir)
			if err != nil {
				t.Error(err)
				return
			}
			ids[i] = keys.IDs()[0]
		})
	}
	wg.Wait()
	for _, id := range ids {
		if id != ids[0] {
			t.Fatalf("several keys: %v", ids)
		}
	}
	info, err := os.Stat(filepath.Join(dir, auth.KeyFile))
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Fatalf("%v, %v", info, err)
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) != 1 {
		t.Fatalf("left behind: %v, %v", left, err)
	}
}

func TestAKeyFileThatOthersMayReadIsRefused(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	if _, err := auth.LoadOrMakeKeys(dir); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(filepath.Join(dir, auth.KeyFile), 0o640); err != nil {
		t.Fatal(err)
	}
	if _, err := auth.LoadOrMakeKeys(dir); err == nil || !strings.Contains(err.Error(), "0600") {
		t.Fatalf("got %v", err)
	}
}

func TestADamagedKeyFileIsNotReplaced(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	path := filepath.Join(dir, auth.KeyFile)
	if err := os.WriteFile(path, []byte("half a se"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := auth.LoadOrMakeKeys(dir); err == nil || !strings.Contains(err.Error(), path) {
		t.Fatalf("got %v", err)
	}
	if text, err := os.ReadFile(path); err != nil || string(text) != "half a se" {
		t.Fatalf("%q, %v", text, err)
	}
}

func FuzzKeys(f *testing.F) {
	f.Add("nWGxne_9WmC6hEr0kuwsxERJxWl7MmkZcDusAxyuf2A,")
	f.Fuzz(func(t *testing.T, text string) {
		keys, err := auth.ParseKeys(text)
		if (err == nil) != (len(keys.IDs()) > 0) {
			t.Fatalf("%q: %v, %v", text, keys.IDs(), err)
		}
	})
}
