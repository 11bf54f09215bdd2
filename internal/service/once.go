package service

import (
	"crypto/sha256"
	"crypto/subtle"
	"encoding/json"

	"midden/internal/farm"
	"midden/internal/store"
)

// Once makes a write count once, however often it is sent. The zero Once asks
// for nothing. Render turns the result into the response that is stored and,
// for a repeat, given again; it runs inside the transaction and must be quick.
type Once struct {
	Key      string
	Op       string
	BodyHash [32]byte
	Render   func(result any) (status int, header map[string]string, body []byte, err error)
}

// Done is what a write gives. With a Once, Response is what must be sent; when
// Replayed, an earlier one, and Value is empty.
type Done[R any] struct {
	Value    R
	Response *store.Answer
	Replayed bool
}

func (o Once) asked() bool { return o.Key != "" }

// replay gives the stored response to a repeat, and refuses with
// request.key_reused a key that came with another body.
func (o Once) replay(a store.StoredAnswer) (*store.Answer, error) {
	if subtle.ConstantTimeCompare(a.BodyHash[:], o.BodyHash[:]) != 1 {
		return nil, farm.Refuse("request.key_reused", "", "this idempotency key came with another request before; use a new one")
	}
	return &a.Answer, nil
}

// answer renders a result. Only success is kept: a refusal wrote nothing and
// is judged again.
func (o Once) answer(result any) (store.StoredAnswer, bool, error) {
	status, header, body, err := o.Render(result)
	a := store.StoredAnswer{Answer: store.Answer{Status: status, Header: header, Body: body}, BodyHash: o.BodyHash}
	if a.Body == nil {
		a.Body = []byte{}
	}
	return a, err == nil && status >= 200 && status <= 299, err
}

// digest is the SHA-256 of what something was made from. Two requests with the
// same client-made id and the same digest are one and the same.
func digest(content any) ([32]byte, error) {
	b, err := json.Marshal(content)
	if err != nil {
		return [32]byte{}, err
	}
	return sha256.Sum256(b), nil
}

// again tells whether a thing with this id was already made from the same
// content; with other content it refuses with code.
func again(made *store.Row[[]byte], content [32]byte, code farm.Code) (bool, error) {
	if made == nil || !made.Found {
		return false, nil
	}
	if subtle.ConstantTimeCompare(made.Value, content[:]) == 1 {
		return true, nil
	}
	return false, farm.Refuse(code, "/id", "id: this id is already used with other content")
}
