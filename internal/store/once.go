package store

import (
	"encoding/json"
	"time"

	"github.com/google/uuid"
)

// Answer is a response as it was sent.
type Answer struct {
	Status int
	Header map[string]string
	Body   []byte
}

// StoredAnswer is an answer with the SHA-256 of the request body that got it.
type StoredAnswer struct {
	Answer
	BodyHash [32]byte
}

type answerRow struct {
	BodySHA256 []byte `db:"body_sha256"`
	Status     int    `db:"status"`
	Headers    []byte `db:"headers"`
	Body       []byte `db:"body"`
}

func (r answerRow) answer() (StoredAnswer, error) {
	a := StoredAnswer{Answer: Answer{Status: r.Status, Body: r.Body}}
	copy(a.BodyHash[:], r.BodySHA256)
	return a, json.Unmarshal(r.Headers, &a.Header)
}

var _ = refuseOn("once_in_flight", "request.in_flight", "",
	"a request with this idempotency key is being worked on; ask again in a moment")

// ClaimOnce takes the key for this transaction and looks for an earlier
// answer. The flush fails with request.in_flight while another holds the key.
func (tx *Tx) ClaimOnce(op, key string) *Row[StoredAnswer] {
	tx.queue(`SELECT midden.claim_once($1, $2)`, op, key)
	return fetchOne(&tx.Batch, answerRow.answer, `
		SELECT body_sha256, status, headers, body FROM midden.once_keys
		 WHERE account_id = midden.account() AND op = $1 AND key = $2`, op, key)
}

// KeepAnswer stores the answer with the rest of the transaction.
func (tx *Tx) KeepAnswer(account uuid.UUID, op, key string, a StoredAnswer, now time.Time) error {
	headers, err := json.Marshal(a.Header)
	if err != nil {
		return err
	}
	tx.queue(`
		INSERT INTO midden.once_keys (account_id, op, key, body_sha256, status, headers, body, created_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`,
		account, op, key, a.BodyHash[:], a.Status, headers, a.Body, now)
	return nil
}

// ForgetAnswers drops answers older than before, of everyone, and counts them.
func (b *Batch) ForgetAnswers(before time.Time) *Row[int64] {
	return fetchValue[int64](b, `SELECT midden.forget_once_keys($1)`, before)
}
