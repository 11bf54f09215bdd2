package main

import (
	"context"
	"crypto/sha256"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgtype"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/pgrun"
	"midden/internal/service"
)

// intakeScript takes in one lot while watching what the service sends, and
// writes it down as a pgbench script: the same statements, in the same round
// trips, with the ids that change from lot to lot drawn at random.
func (b *bench) intakeScript(ctx context.Context, gardens int) (string, error) {
	p := b.gardens[0]
	lot := numbered(kindLot, 1<<40)
	const key = "bench-key-of-the-captured-intake"
	render := func(any) (int, map[string]string, []byte, error) {
		return 201, map[string]string{"Content-Type": "application/json"}, make([]byte, 700), nil
	}
	// Whatever ids the service makes on its way, in order.
	var made []part
	for i := range mostMade {
		id := numbered(kindMade+i, 1<<40)
		b.ids.queued = append(b.ids.queued, id)
		made = append(made, part{id.String(), idText(kindMade+i, "n")})
	}
	trips, err := b.trace.watch(func() error {
		_, err := b.svc.TakeIn(ctx, service.Actor{AccountID: p.account}, p.garden, lotOf(lot, p.site),
			service.Once{Key: key, Op: "takeInLot", BodyHash: sha256.Sum256([]byte(key)), Render: render})
		return err
	})
	b.ids.queued = nil
	if err != nil {
		return "", err
	}
	conn, err := pgx.Connect(ctx, b.appDSN)
	if err != nil {
		return "", err
	}
	defer conn.Close(ctx)
	w := &writer{conn: conn, parts: append(made, []part{
		{lot.String(), idText(kindLot, "n")}, {key, "'k' || :n"},
		{p.garden.String(), idText(kindGarden, "g")}, {p.account.String(), idText(kindAccount, "g")},
		{p.site.String(), idText(kindSite, "g")}, {numbered(kindMember, 0).String(), idText(kindMember, "g")},
	}...)}
	var script strings.Builder
	fmt.Fprintf(&script, "\\set n random(1, 1000000000000)\n\\set g random(0, %d)\n", gardens-1)
	for _, trip := range trips {
		script.WriteString("\\startpipeline\n")
		for _, s := range trip {
			text, err := w.statement(ctx, s)
			if err != nil {
				return "", err
			}
			script.WriteString(text + ";\n")
		}
		script.WriteString("\\endpipeline\n")
	}
	file := filepath.Join(os.TempDir(), fmt.Sprintf("midden-intake-%d.sql", gardens))
	return file, os.WriteFile(file, []byte(script.String()), 0o600)
}

func lotOf(id, site uuid.UUID) service.Intake {
	return service.Intake{ID: id, Material: "apples", SiteID: site, Place: farm.Shelf, Status: farm.LotAccepted,
		Mass: farm.Entered{Method: farm.ByScale, Gross: measure.Quantity{Value: "9.4", Unit: measure.Kilogram}}}
}

// idText is SQL for the text of a numbered id.
func idText(kind int, variable string) string {
	return fmt.Sprintf("'01900000-0000-7000-%04x-' || lpad(to_hex(:%s::bigint), 12, '0')", kind, variable)
}

// part is a value of the captured intake and the SQL that stands for it.
type part struct{ text, sql string }

type writer struct {
	conn  *pgx.Conn
	parts []part
}

var placeholder = regexp.MustCompile(`\$(\d+)`)

// statement puts literals in place of the parameters. It asks the server for
// their types, as the driver did.
func (w *writer) statement(ctx context.Context, s statement) (string, error) {
	if len(s.args) == 0 {
		return oneLine(s.sql), nil
	}
	d, err := w.conn.Prepare(ctx, "", s.sql)
	if err != nil {
		return "", fmt.Errorf("%s: %w", oneLine(s.sql), err)
	}
	literals := make([]string, len(s.args))
	for i, a := range s.args {
		if literals[i], err = w.literal(ctx, d.ParamOIDs[i], a); err != nil {
			return "", fmt.Errorf("%s: $%d: %w", oneLine(s.sql), i+1, err)
		}
	}
	return placeholder.ReplaceAllStringFunc(oneLine(s.sql), func(m string) string {
		i, _ := strconv.Atoi(m[1:])
		return literals[i-1]
	}), nil
}

func (w *writer) literal(ctx context.Context, oid uint32, value any) (string, error) {
	var typ string
	if err := w.conn.QueryRow(ctx, `SELECT format_type($1, NULL)`, oid).Scan(&typ); err != nil {
		return "", err
	}
	text, err := w.conn.TypeMap().Encode(oid, pgtype.TextFormatCode, value, []byte{})
	if err != nil {
		return "", err
	}
	if text == nil {
		return "NULL::" + typ, nil
	}
	return "(" + w.concat(string(text)) + ")::" + typ, nil
}

// concat writes a text as SQL, with the parts that vary as expressions.
func (w *writer) concat(text string) string {
	at, found := -1, part{}
	for _, p := range w.parts {
		if i := strings.Index(text, p.text); i >= 0 && (at < 0 || i < at) {
			at, found = i, p
		}
	}
	if at < 0 {
		return quote(text)
	}
	out := found.sql
	if at > 0 {
		out = quote(text[:at]) + " || " + out
	}
	if rest := text[at+len(found.text):]; rest != "" {
		out += " || " + w.concat(rest)
	}
	return out
}

// quote is a literal in which pgbench sees no variable of its own.
func quote(s string) string {
	return "E'" + strings.NewReplacer(`\`, `\\`, `'`, `''`, `:`, `\x3a`).Replace(s) + "'"
}

func oneLine(sql string) string { return strings.Join(strings.Fields(sql), " ") }

var tps = regexp.MustCompile(`tps = ([0-9.]+)`)

// pgbench runs a script and gives transactions per second.
func (b *bench) pgbench(ctx context.Context, script string, length time.Duration) (float64, error) {
	found, err := pgrun.Find(ctx, os.Getenv("MIDDEN_PG_BINDIR"))
	if err != nil {
		return 0, err
	}
	cmd := exec.CommandContext(ctx, filepath.Join(found[0].Dir, "pgbench"), "-n", "-M", "prepared", "-c", strconv.Itoa(clients),
		"-j", "1", "-T", strconv.Itoa(int(length.Seconds())), "-f", script, b.appDSN)
	out, err := cmd.CombinedOutput()
	if err != nil {
		return 0, fmt.Errorf("%w\n%s", err, out)
	}
	m := tps.FindSubmatch(out)
	if m == nil {
		return 0, fmt.Errorf("no tps in:\n%s", out)
	}
	return strconv.ParseFloat(string(m[1]), 64)
}
