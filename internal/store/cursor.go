package store

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
)

// Page sizes of lists.
const (
	DefaultPage = 50
	LargestPage = 200
)

// Page asks for part of a list. Limit 0 means DefaultPage; more than
// LargestPage is cut down to it.
type Page struct {
	Limit  int
	Cursor string
}

// Size is the number of rows asked for.
func (p Page) Size() int {
	switch {
	case p.Limit <= 0:
		return DefaultPage
	case p.Limit > LargestPage:
		return LargestPage
	}
	return p.Limit
}

// List is part of a list. Next is empty at the end.
type List[T any] struct {
	Items []T
	Next  string
}

const macSize = 16

// Cursor signs the last row's keys as an opaque text. list names the list,
// its garden and its filter, so that a cursor can't be carried to another.
func (s *Store) Cursor(list string, keys ...string) string {
	payload := strings.Join(keys, "\x00")
	return base64.RawURLEncoding.EncodeToString(append(s.mac(list, payload), payload...))
}

// ReadCursor gives back the keys, nil for an empty cursor. It refuses with
// cursor.invalid a text that it did not make for this list.
func (s *Store) ReadCursor(list, text string, keys int) ([]string, error) {
	if text == "" {
		return nil, nil
	}
	raw, err := base64.RawURLEncoding.DecodeString(text)
	if err == nil && len(raw) >= macSize {
		payload := string(raw[macSize:])
		got := strings.Split(payload, "\x00")
		if hmac.Equal(raw[:macSize], s.mac(list, payload)) && len(got) == keys {
			return got, nil
		}
	}
	return nil, farm.Refuse("cursor.invalid", "/cursor", "cursor: must be the one this list gave; start again without one")
}

func (s *Store) mac(list, payload string) []byte {
	m := hmac.New(sha256.New, s.cursorKey)
	m.Write([]byte(list + "\x00\x00" + payload))
	return m.Sum(nil)[:macSize]
}

// Paged is part of a list to come.
type Paged[T any] struct {
	store *Store
	list  string
	page  Page
	rows  *Rows[T]
	keys  func(T) []string
}

// List gives the page once the batch was sent.
func (p *Paged[T]) List() List[T] {
	if p.rows == nil {
		return List[T]{}
	}
	return cut(p.store, p.list, p.page, p.rows.Values, p.keys)
}

// cut trims the one row that was fetched beyond the page and makes the cursor.
func cut[T any](s *Store, list string, p Page, rows []T, keys func(T) []string) List[T] {
	n := p.Size()
	if len(rows) <= n {
		return List[T]{Items: rows}
	}
	return List[T]{Items: rows[:n], Next: s.Cursor(list, keys(rows[n-1])...)}
}

// paged queues a page of a list. query is given the keys of the cursor, two of
// them, and must ask for one row more than the page holds. keys gives those of
// a row. filter must be a plain value.
func paged[T any](b *Batch, name string, filter any, p Page, query func(at []string, limit int) *Rows[T], keys func(T) []string) *Paged[T] {
	list := listName(name, b.scope.Garden, filter)
	at, err := b.store.ReadCursor(list, p.Cursor, 2)
	if err != nil {
		b.fail(err)
		return &Paged[T]{}
	}
	return &Paged[T]{b.store, list, p, query(at, p.Size()+1), keys}
}

// listName binds a cursor to its list, garden and filter.
func listName(list string, garden uuid.UUID, filter any) string {
	return fmt.Sprintf("%s %s %+v", list, garden, filter)
}

// keyAt is the i-th key of a cursor, nil when there is no cursor.
func keyAt(keys []string, i int) *string {
	if i >= len(keys) {
		return nil
	}
	return &keys[i]
}

// prefixRange is the range of folded names that begin with prefix: an index
// can be used for it, which a LIKE can't under row-level security.
func prefixRange(prefix string) (low string, high *string) {
	low = farm.Fold(prefix)
	if low == "" {
		return "", nil
	}
	end := low + "\U0010FFFF"
	return low, &end
}

// timeKey is the i-th key of a cursor as an instant. A signed cursor holds
// only what was put in it, so a parse can't fail.
func timeKey(keys []string, i int) *time.Time {
	if i >= len(keys) {
		return nil
	}
	t, err := time.Parse(time.RFC3339Nano, keys[i])
	if err != nil {
		return nil
	}
	return &t
}
