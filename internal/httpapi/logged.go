package httpapi

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/auth"
	"midden/internal/farm"
	"midden/internal/service"
)

// actor is who asks; the guard has proved it.
func actor(c echo.Context) service.Actor {
	a, _ := c.Get(keyAccess).(auth.Access)
	return service.Actor{AccountID: a.AccountID, SessionID: a.SessionID}
}

// body reads the request into T. The contract has already refused what does
// not fit, so a failure here is something only Go's decoder minds.
func body[T any](c echo.Context) (T, error) {
	var v T
	raw, err := rawBody(c)
	if err != nil {
		return v, err
	}
	if err := json.Unmarshal(raw, &v); err != nil {
		return v, farm.Refuse("request.malformed", "", "the body is not as the contract says: %s", firstLine(err.Error()))
	}
	return v, nil
}

func rawBody(c echo.Context) ([]byte, error) {
	get := c.Request().GetBody
	if get == nil {
		return nil, nil
	}
	r, err := get()
	if err != nil {
		return nil, err
	}
	defer r.Close()
	return io.ReadAll(r)
}

// reply is how a result goes on the wire.
type reply[R any] struct {
	Status   int
	Wire     func(R) any
	Location func(R) string // nil: no Location header
	Version  func(R) int    // nil: no ETag
}

func (p reply[R]) render(result any) (int, map[string]string, []byte, error) {
	r, ok := result.(R)
	if !ok {
		return 0, nil, nil, fmt.Errorf("httpapi: cannot render a %T", result)
	}
	header := map[string]string{"Content-Type": echo.MIMEApplicationJSON}
	if p.Location != nil {
		header["Location"] = p.Location(r)
	}
	if p.Version != nil {
		header["ETag"] = etag(p.Version(r))
	}
	out, err := json.Marshal(p.Wire(r))
	return p.Status, header, out, err
}

// once runs a write that counts once under its Idempotency-Key: the response
// is stored with the write and given again to every repeat.
func once[R any](s *Server, c echo.Context, key api.IdempotencyKey, p reply[R],
	do func(context.Context, service.Actor, service.Once) (service.Done[R], error)) error {
	raw, err := rawBody(c)
	if err != nil {
		return err
	}
	o := service.Once{
		Key:      strings.Trim(key, `"`),
		Op:       s.contract.operation(c).route.Operation.OperationID,
		BodyHash: fingerprint(c.Request().URL.Path, raw),
		Render:   p.render,
	}
	done, err := do(c.Request().Context(), actor(c), o)
	if err != nil {
		return err
	}
	if done.Replayed {
		c.Response().Header().Set("Idempotency-Replayed", "true")
	}
	return sendStored(c, done.Response.Status, done.Response.Header, done.Response.Body)
}

// fingerprint tells one request from another under the same key. A first
// password is left out: it is stored nowhere but as the slow hash of auth, and
// a quick one of the body around it could be tried against guesses.
func fingerprint(path string, raw []byte) [sha256.Size]byte {
	var members map[string]json.RawMessage
	if json.Unmarshal(raw, &members) == nil && members["initial_password"] != nil {
		delete(members, "initial_password")
		if without, err := json.Marshal(members); err == nil {
			raw = without
		}
	}
	return sha256.Sum256(append([]byte(path+"\n"), raw...))
}

// send answers with one result.
func send[R any](c echo.Context, p reply[R], r R) error {
	status, header, out, err := p.render(r)
	if err != nil {
		return err
	}
	return sendStored(c, status, header, out)
}

func sendStored(c echo.Context, status int, header map[string]string, out []byte) error {
	h := c.Response().Header()
	for k, v := range header {
		h.Set(k, v)
	}
	if status == http.StatusNoContent {
		return c.NoContent(status)
	}
	return c.Blob(status, header["Content-Type"], out)
}

// version reads If-Match (RFC 9110, section 13.1.1). Only one strong tag of
// ours can match: a weak or foreign one is stale by definition. Without one
// the answer is 428 (RFC 6585).
func version(header *api.IfMatch) (int, error) {
	if header == nil || strings.TrimSpace(*header) == "*" {
		return 0, farm.Refuse("version.missing", "If-Match", "send the ETag you read as If-Match")
	}
	text, err := strconv.Unquote(strings.TrimSpace(*header))
	if err == nil && strings.HasPrefix(*header, `"`) {
		if v, err := strconv.Atoi(text); err == nil && v >= 0 {
			return v, nil
		}
	}
	return 0, farm.Refuse("version.stale", "If-Match", "If-Match: %s is not the version there is; read it again", *header)
}
