package httpapi

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"midden/internal/ledger"
	"midden/openapi"

	"gopkg.in/yaml.v3"
)

func TestEntriesAreListedNewestRecordedFirst(t *testing.T) {
	p := newTable(t)
	today := p.takeIn(reading("3", "kg"))
	p.at(noon.Add(time.Minute))
	backdated := p.takeIn(reading("2", "kg"), "occurred_at", "2026-10-02T10:00:00Z")
	p.in("POST", "/lots/"+today.text("id")+"/spoilage", doc{"destination": "landfill"}).want(200)
	ids := p.pages("/entries", 2)
	if len(ids) != 3 || ids[2] != today.text("entry_id") || !slices.Contains(ids[:2], backdated.text("entry_id")) {
		t.Errorf("listed %v", ids)
	}
	for query, want := range map[string]int{
		"?kind=intake": 2, "?kind=spoilage_landfill": 1, "?kind=harvest": 0, "?reversals=true": 0,
		"?account=lot:" + today.text("id"): 2, "?account=lot:" + today.text("id") + "&kind=intake": 1, "?account=spoiled": 1,
		"?from=2026-10-03": 2, "?to=2026-10-03": 1, "?from=2026-10-02&to=2026-10-03": 1,
	} {
		if n := len(p.in("GET", "/entries"+query, nil).want(200).items()); n != want {
			t.Errorf("%s: %d entries, want %d", query, n, want)
		}
	}
	p.in("GET", "/entries?account=shelf", nil).refused(400, "request.malformed", "account")
	p.in("GET", "/entries?kind=theft", nil).refused(400, "request.malformed", "kind")
	donor, stranger := p.with("donor", "rui@lowfield.example"), p.newGarden("tove@hillside.example")
	donor.in("GET", "/entries", nil).refused(403, "role.forbidden", "")
	donor.in("GET", "/stock", nil).refused(403, "role.forbidden", "")
	stranger.in("GET", "/entries/"+today.text("entry_id"), nil).refused(404, "entry.not_found", "")
	stranger.in("POST", "/entries/"+today.text("entry_id")+"/reversal", doc{"reason": "Wrong bin."}).refused(404, "entry.not_found", "")
}

func TestAnEntryIsTakenBackOnceWithItsReason(t *testing.T) {
	p := newTable(t)
	keeper := p.with("keeper", "ines@lowfield.example")
	lot := p.takeIn(reading("30", "kg"))
	at := "/entries/" + lot.text("entry_id")
	keeper.in("POST", at+"/reversal", doc{"reason": "It was 3 kg."}).refused(403, "role.forbidden", "")
	p.in("POST", at+"/reversal", doc{"reason": " "}).refused(422, "entry.invalid", "/reason")
	key := `"undo-once"`
	undo := p.in("POST", at+"/reversal", doc{"reason": "It was 3 kg."}, "Idempotency-Key", key).want(201)
	again := p.in("POST", at+"/reversal", doc{"reason": "It was 3 kg."}, "Idempotency-Key", key).want(201)
	if undo.text("reverses_entry_id") != lot.text("entry_id") || undo.text("reason") != "It was 3 kg." || undo.text("kind") != "intake" ||
		string(undo.Raw) != string(again.Raw) || undo.text("by_member_id") != p.member {
		t.Errorf("taken back as %s, then %s", undo.Raw, again.Raw)
	}
	if string(p.in("GET", "/entries/"+undo.text("id"), nil).want(200).Raw) != string(undo.Raw) {
		t.Error("the reversal is shown otherwise than it was answered")
	}
	was := p.in("GET", at, nil).want(200)
	if was.text("reversed_by_entry_id") != undo.text("id") || was.text("cause") != "lot:"+lot.text("id") {
		t.Errorf("shown as %s", was.Raw)
	}
	for _, side := range was.Body["postings"].([]any) {
		for _, back := range undo.Body["postings"].([]any) {
			a, b := side.(map[string]any), back.(map[string]any)
			if a["account"] == b["account"] && a["grams"].(float64) != -b["grams"].(float64) {
				t.Errorf("%v is not undone by %v", a, b)
			}
		}
	}
	p.in("POST", at+"/reversal", doc{"reason": "Again."}).refused(409, "entry.reversed", "")
	p.in("POST", "/entries/"+undo.text("id")+"/reversal", doc{"reason": "No."}).refused(409, "entry.is_reversal", "")
	if n := len(p.in("GET", "/entries?reversals=true", nil).want(200).items()); n != 1 {
		t.Errorf("%d reversals", n)
	}
	used := p.takeIn(reading("3", "kg"))
	p.in("POST", "/lots/"+used.text("id")+"/spoilage", doc{"destination": "landfill"}).want(200)
	p.in("POST", "/entries/"+used.text("entry_id")+"/reversal", doc{"reason": "Mistake."}).refused(409, "lot.empty", "")
}

func TestStockIsWhatWasThereAtTheEndOfTheDay(t *testing.T) {
	p := newTable(t)
	old := p.takeIn(reading("5", "kg"), "occurred_at", "2026-10-01T10:00:00Z")
	p.in("POST", "/lots/"+old.text("id")+"/spoilage", doc{"destination": "landfill", "occurred_at": "2026-10-03T10:00:00Z"}).want(200)
	held := p.takeIn(reading("2", "kg"), "occurred_at", "2026-10-02T10:00:00Z")
	also := p.takeIn(reading("1", "kg"))
	for query, want := range map[string][]*answer{
		"": {held, also}, "?kind=lot": {held, also}, "?kind=castings": nil, "?day=2026-09-30": nil,
		"?day=2026-10-01": {old}, "?day=2026-10-02": {old, held}, "?day=2026-10-03": {held}, "?day=2026-10-05": {held, also}, "?day=2027-01-01": {held, also},
	} {
		var got, accounts []string
		for _, l := range p.in("GET", "/stock"+query, nil).want(200).items() {
			got = append(got, l["account"].(string))
		}
		for _, a := range want {
			accounts = append(accounts, "lot:"+a.text("id"))
		}
		if slices.Sort(accounts); !slices.Equal(got, accounts) {
			t.Errorf("%s: got %v, want %v", query, got, accounts)
		}
	}
	page := p.in("GET", "/stock?limit=1&day=2026-10-02", nil).want(200)
	next := p.in("GET", "/stock?limit=1&day=2026-10-02&cursor="+page.text("next_cursor"), nil).want(200)
	if l := next.items(); len(l) != 1 || l[0]["account"] == page.items()[0]["account"] || next.Body["next_cursor"] != nil {
		t.Errorf("next page %s", next.Raw)
	}
}

// The constants are read from their source, so that a new one can't be left out.
func TestEveryKindOfEntryIsInTheContract(t *testing.T) {
	t.Parallel()
	file, err := parser.ParseFile(token.NewFileSet(), "../ledger/kinds.go", nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	var kinds []string
	ast.Inspect(file, func(n ast.Node) bool {
		if v, ok := n.(*ast.BasicLit); ok && v.Kind == token.STRING {
			k, err := strconv.Unquote(v.Value)
			if err != nil {
				t.Fatal(err)
			}
			kinds = append(kinds, k)
		}
		return true
	})
	var contract struct {
		Components struct {
			Schemas struct {
				EntryKind struct {
					Enum []string `yaml:"enum"`
				} `yaml:"EntryKind"`
			} `yaml:"schemas"`
		} `yaml:"components"`
	}
	if err := yaml.Unmarshal(openapi.YAML, &contract); err != nil {
		t.Fatal(err)
	}
	enum := contract.Components.Schemas.EntryKind.Enum
	slices.Sort(kinds)
	slices.Sort(enum)
	if !slices.Contains(kinds, ledger.KindIntake) || !slices.Equal(kinds, enum) {
		t.Errorf("the ledger has the kinds\n%v\nthe contract has\n%v", kinds, enum)
	}
}

func TestEntriesAreMadeOnlyOfNamedKinds(t *testing.T) {
	t.Parallel()
	files, err := filepath.Glob("../service/*.go")
	if err != nil || len(files) < 10 {
		t.Fatalf("%d files: %v", len(files), err)
	}
	for _, name := range files {
		src, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(string(src), `.entry("`) {
			t.Errorf("%s: makes an entry of a kind that is no constant of ledger", name)
		}
	}
}
