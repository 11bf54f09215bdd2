package httpapi

import (
	"time"

	"github.com/google/uuid"
	"github.com/oapi-codegen/nullable"
	openapi_types "github.com/oapi-codegen/runtime/types"

	"midden/internal/measure"
)

// dayIn reads a wire day; the time of day is always midnight UTC there.
func dayIn(d openapi_types.Date) measure.Day { return measure.DayIn(d.Time, time.UTC) }

// dayOut writes a day on the wire.
func dayOut(d measure.Day) openapi_types.Date {
	return openapi_types.Date{Time: d.UTC()}
}

// dayInPtr reads a day that may be left out; the zero Day means it was.
func dayInPtr(d *openapi_types.Date) measure.Day {
	if d == nil {
		return measure.Day{}
	}
	return dayIn(*d)
}

// dayOutPtr writes a day that may be unset.
func dayOutPtr(d measure.Day) *openapi_types.Date {
	if d.IsZero() {
		return nil
	}
	o := dayOut(d)
	return &o
}

// value reads a field that may be left out as its zero value.
func value[T any](p *T) T {
	if p == nil {
		var zero T
		return zero
	}
	return *p
}

// ptr points at a copy of v.
func ptr[T any](v T) *T { return &v }

// nonZero points at v, or is nil when v is the zero value.
func nonZero[T comparable](v T) *T {
	var zero T
	if v == zero {
		return nil
	}
	return &v
}

// listIn reads a list that may be left out.
func listIn[T any](p *[]T) []T {
	if p == nil {
		return nil
	}
	return *p
}

// change is a field of a merge patch: left out, cleared, or set.
type change[T any] struct {
	Set   bool // named in the patch
	Clear bool // named as null
	Value T
}

// patchOf reads a nullable field of a merge patch.
func patchOf[T any](n nullable.Nullable[T]) change[T] {
	switch {
	case !n.IsSpecified():
		return change[T]{}
	case n.IsNull():
		return change[T]{Set: true, Clear: true}
	}
	return change[T]{Set: true, Value: n.MustGet()}
}

// set puts a named field of a merge patch in its place.
func set[T any](into *T, p *T) {
	if p != nil {
		*into = *p
	}
}

// setDay puts a named day in its place.
func setDay(into *measure.Day, d *openapi_types.Date) {
	if d != nil {
		*into = dayIn(*d)
	}
}

// gardenPath is where a thing of a garden is found.
func gardenPath(garden uuid.UUID, collection string, id uuid.UUID) string {
	return "/v1/gardens/" + garden.String() + "/" + collection + "/" + id.String()
}
