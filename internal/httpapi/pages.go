package httpapi

import (
	"net/http"
	"net/url"
	"strconv"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/service"
)

// pageOf is what a list request asks for.
func pageOf(limit *api.Limit, cursor *api.Cursor) service.Page {
	return service.Page{Limit: int(value(limit)), Cursor: value(cursor)}
}

// sendList answers a page of a list; next is "" on the last page. The Link
// header (RFC 8288) repeats the request with the next cursor.
func sendList(c echo.Context, body any, next string) error {
	if next != "" {
		u := *c.Request().URL
		q := u.Query()
		q.Set("cursor", next)
		u.RawQuery = q.Encode()
		link := url.URL{Path: u.Path, RawQuery: u.RawQuery}
		c.Response().Header().Set("Link", "<"+link.String()+`>; rel="next"`)
	}
	return c.JSON(http.StatusOK, body)
}

func ptrIf(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

// mapped turns a slice into wire types; never nil, so that JSON shows [].
func mapped[A, B any](in []A, f func(A) B) []B {
	out := make([]B, 0, len(in))
	for _, a := range in {
		out = append(out, f(a))
	}
	return out
}

func etag(version int) string { return strconv.Quote(strconv.Itoa(version)) }

// sendPage answers a page of a list; out makes the wire form of a row.
func sendPage[T any](c echo.Context, l service.List[T], out func(T) any) error {
	body := map[string]any{"items": mapped(l.Items, out)}
	if l.Next != "" {
		body["next_cursor"] = l.Next
	}
	return sendList(c, body, l.Next)
}
