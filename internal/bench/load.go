package main

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/google/uuid"

	"midden/internal/auth"
)

// load runs the client as a process of its own and gives requests per second.
func (b *bench) load(ctx context.Context, what, url string, gardens int, length time.Duration) (float64, error) {
	self, err := os.Executable()
	if err != nil {
		return 0, err
	}
	signer := auth.NewSigner(b.keys, b.parties)
	var tokens []string
	for _, p := range b.gardens[:gardens] {
		t, _, err := signer.Sign(time.Now(), p.account, uuid.New())
		if err != nil {
			return 0, err
		}
		tokens = append(tokens, t)
	}
	cmd := exec.CommandContext(ctx, self, "load", "-what", what, "-url", url, "-for", length.String())
	cmd.Stdin = strings.NewReader(strings.Join(tokens, "\n"))
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		return 0, err
	}
	return strconv.ParseFloat(strings.TrimSpace(string(out)), 64)
}

// loadCommand is the client: it reads a token per garden and prints the rate.
func loadCommand(ctx context.Context, args []string) error {
	flags := flag.NewFlagSet("load", flag.ContinueOnError)
	what := flags.String("what", "", "intake or state")
	url := flags.String("url", "", "of the server")
	length := flags.Duration("for", time.Second, "how long")
	if err := flags.Parse(args); err != nil {
		return err
	}
	text, err := io.ReadAll(os.Stdin)
	if err != nil {
		return err
	}
	l := &loader{url: *url, tokens: strings.Fields(string(text)),
		http: &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: clients, MaxConnsPerHost: clients}}}
	request := l.intake
	if *what == "state" {
		request = l.state
	}
	if err := l.once(ctx, request, 0); err != nil { // warm, and a clear error early
		return err
	}
	begin := time.Now()
	limit, cancel := context.WithDeadline(ctx, begin.Add(*length))
	defer cancel()
	var done atomic.Int64
	var failed error
	var fail sync.Once
	var wg sync.WaitGroup
	for c := range clients {
		wg.Go(func() {
			for i := c; limit.Err() == nil; i += clients {
				if err := l.once(ctx, request, i); err != nil {
					fail.Do(func() { failed = err; cancel() })
					return
				}
				done.Add(1)
			}
		})
	}
	wg.Wait()
	if failed != nil {
		return failed
	}
	fmt.Printf("%.1f\n", float64(done.Load())/time.Since(begin).Seconds())
	return nil
}

type loader struct {
	url    string
	tokens []string
	http   *http.Client
}

func (l *loader) once(ctx context.Context, request func(context.Context, int) (*http.Request, error), i int) error {
	req, err := request(ctx, i)
	if err != nil {
		return err
	}
	req.Header.Set("Authorization", "Bearer "+l.tokens[i%len(l.tokens)])
	res, err := l.http.Do(req)
	if err != nil {
		return err
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err == nil && res.StatusCode >= 300 {
		err = fmt.Errorf("%s: %s", res.Status, body)
	}
	return err
}

func (l *loader) intake(ctx context.Context, i int) (*http.Request, error) {
	g := uint64(i % len(l.tokens))
	body, err := json.Marshal(map[string]any{"id": uuid.Must(uuid.NewV7()), "material": "apples", "site_id": numbered(kindSite, g), "verdict": "accepted",
		"amount": map[string]any{"method": "weighed", "mass": map[string]string{"value": "9.4", "unit": "kg"}}})
	if err != nil {
		return nil, err
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, fmt.Sprintf("%s/v1/gardens/%s/lots", l.url, numbered(kindGarden, g)), bytes.NewReader(body))
	if err == nil {
		req.Header.Set("Content-Type", "application/json")
		req.Header.Set("Idempotency-Key", strconv.Quote(uuid.NewString()))
	}
	return req, err
}

func (l *loader) state(ctx context.Context, i int) (*http.Request, error) {
	g := uint64(i % len(l.tokens))
	return http.NewRequestWithContext(ctx, http.MethodGet,
		fmt.Sprintf("%s/v1/gardens/%s/bins/%s/state", l.url, numbered(kindGarden, g), numbered(kindBin, g)), nil)
}
