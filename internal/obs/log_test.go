package obs_test

import (
	"bytes"
	"context"
	"encoding/json"
	"log/slog"
	"strings"
	"testing"
	"time"

	"midden/internal/obs"
)

func TestALineCarriesTheRequestItBelongsTo(t *testing.T) {
	t.Parallel()
	var out bytes.Buffer
	log := obs.NewLogger(&out, slog.LevelInfo, "json").With("part", "test")
	ctx := obs.WithRequestID(context.Background(), "r-1")
	log.InfoContext(ctx, "fed", "mass_g", 1200)
	log.InfoContext(ctx, "said once", "request_id", "r-2")
	log.InfoContext(context.Background(), "no request")
	log.DebugContext(ctx, "below the level")
	var ids []any
	for line := range strings.Lines(out.String()) {
		var fields map[string]any
		if err := json.Unmarshal([]byte(line), &fields); err != nil {
			t.Fatalf("%q: %v", line, err)
		}
		if fields["part"] != "test" || strings.Count(line, "request_id") > 1 {
			t.Errorf("%q", line)
		}
		ids = append(ids, fields["request_id"])
	}
	if len(ids) != 3 || ids[0] != "r-1" || ids[1] != "r-2" || ids[2] != nil {
		t.Fatalf("got %v", ids)
	}
}

func TestWhatIsPrivateNeverReachesALog(t *testing.T) {
	t.Parallel()
	for _, format := range []string{"json", "text"} {
		var out bytes.Buffer
		obs.NewLogger(&out, slog.LevelInfo, format).WithGroup("request").Info("sign-in",
			"password", "three damp sponges", slog.Group("headers", "authorization", "Bearer three damp sponges"))
		if strings.Contains(out.String(), "sponges") || !strings.Contains(out.String(), "sign-in") {
			t.Errorf("%s: %s", format, out.String())
		}
	}
}

func TestTheFormatIsTextOrJSON(t *testing.T) {
	t.Parallel()
	for format, first := range map[string]string{"json": "{", "text": "time="} {
		var out bytes.Buffer
		obs.NewLogger(&out, slog.LevelInfo, format).Info("up")
		if !strings.HasPrefix(out.String(), first) {
			t.Errorf("%s: %s", format, out.String())
		}
	}
}

func TestADurationIsLoggedWithItsUnit(t *testing.T) {
	t.Parallel()
	for _, format := range []string{"json", "text"} {
		var out bytes.Buffer
		obs.NewLogger(&out, slog.LevelInfo, format).Info("answered", "took", 1500*time.Microsecond)
		if !strings.Contains(out.String(), "1.5ms") {
			t.Errorf("%s: %s", format, out.String())
		}
	}
}
