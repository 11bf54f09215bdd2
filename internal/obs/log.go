package obs

import (
	"context"
	"io"
	"log/slog"
)

// Field names that all log lines share.
const (
	RequestIDField = "request_id"
	redacted       = "(hidden)"
)

// private are the field names whose values never reach a log, whoever logs them.
var private = map[string]bool{
	"password": true, "authorization": true, "token": true, "access_token": true, "refresh_token": true, "dsn": true,
}

// NewLogger writes to w in the format "text" or, otherwise, JSON. Lines logged
// with a context carry its request id.
func NewLogger(w io.Writer, level slog.Leveler, format string) *slog.Logger {
	o := &slog.HandlerOptions{Level: level, ReplaceAttr: rewrite}
	var h slog.Handler = slog.NewJSONHandler(w, o)
	if format == "text" {
		h = slog.NewTextHandler(w, o)
	}
	return slog.New(requestHandler{h})
}

// rewrite hides what is private, and writes a duration with its unit: JSON
// would show bare nanoseconds.
func rewrite(_ []string, a slog.Attr) slog.Attr {
	switch {
	case private[a.Key]:
		return slog.String(a.Key, redacted)
	case a.Value.Kind() == slog.KindDuration:
		return slog.String(a.Key, a.Value.Duration().String())
	}
	return a
}

type requestIDKey struct{}

// WithRequestID marks everything logged under the context.
func WithRequestID(ctx context.Context, id string) context.Context {
	return context.WithValue(ctx, requestIDKey{}, id)
}

// RequestID is the id of the request under way, or "".
func RequestID(ctx context.Context) string {
	id, _ := ctx.Value(requestIDKey{}).(string)
	return id
}

type requestHandler struct{ slog.Handler }

func (h requestHandler) Handle(ctx context.Context, r slog.Record) error {
	if id := RequestID(ctx); id != "" && !has(r, RequestIDField) {
		r = r.Clone()
		r.AddAttrs(slog.String(RequestIDField, id))
	}
	return h.Handler.Handle(ctx, r)
}

func (h requestHandler) WithAttrs(as []slog.Attr) slog.Handler {
	return requestHandler{h.Handler.WithAttrs(as)}
}

func (h requestHandler) WithGroup(name string) slog.Handler {
	return requestHandler{h.Handler.WithGroup(name)}
}

func has(r slog.Record, name string) (found bool) {
	r.Attrs(func(a slog.Attr) bool { found = a.Key == name; return !found })
	return found
}
