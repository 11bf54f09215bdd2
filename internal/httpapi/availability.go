package httpapi

import (
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/farm"
)

// weekdays in the order of time.Weekday.
var weekdays = []api.Weekday{api.Sunday, api.Monday, api.Tuesday, api.Wednesday, api.Thursday, api.Friday, api.Saturday}

func weekdayIn(d api.Weekday) time.Weekday {
	for i, w := range weekdays {
		if w == d {
			return time.Weekday(i)
		}
	}
	return time.Sunday // the contract has refused anything else
}

func availabilityOut(a farm.Availability) any {
	out := api.Availability{Weekdays: []api.Weekday{}, Exceptions: mapped(a.Exceptions, func(x farm.DayException) api.AvailabilityException {
		return api.AvailabilityException{Day: dayOut(x.Day), Available: x.Available}
	})}
	for i := range weekdays { // a week is shown from Monday on
		if d := (i + 1) % 7; a.Weekdays[d] {
			out.Weekdays = append(out.Weekdays, weekdays[d])
		}
	}
	return out
}

var availabilityReply = reply[farm.Availability]{Status: http.StatusOK, Wire: availabilityOut,
	Version: func(a farm.Availability) int { return a.Version }}

// GetAvailability shows when a keeper can visit bins.
func (s *Server) GetAvailability(c echo.Context, g api.GardenId, id api.MemberId) error {
	a, err := s.svc.Availability(c.Request().Context(), actor(c), g, id)
	if err != nil {
		return err
	}
	return send(c, availabilityReply, a)
}

// PutAvailability says when a keeper can visit bins.
func (s *Server) PutAvailability(c echo.Context, g api.GardenId, id api.MemberId, p api.PutAvailabilityParams) error {
	in, err := body[api.Availability](c)
	if err != nil {
		return err
	}
	v, err := version(p.IfMatch)
	if err != nil {
		return err
	}
	week, err := farm.WeekOf(mapped(in.Weekdays, weekdayIn))
	if err != nil {
		return err
	}
	a := farm.Availability{MemberID: id, Weekdays: week, Exceptions: mapped(in.Exceptions, func(x api.AvailabilityException) farm.DayException {
		return farm.DayException{Day: dayIn(x.Day), Available: x.Available}
	})}
	if a, err = s.svc.SetAvailability(c.Request().Context(), actor(c), g, v, a); err != nil {
		return err
	}
	return send(c, availabilityReply, a)
}
