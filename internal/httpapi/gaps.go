package httpapi

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/farm"
)

// GetGaps shows what still needs somebody in the next 14 days.
func (s *Server) GetGaps(c echo.Context, g api.GardenId) error {
	gaps, err := s.svc.Gaps(c.Request().Context(), actor(c), g)
	if err != nil {
		return err
	}
	return c.JSON(http.StatusOK, api.Gaps{From: dayOut(gaps.Days.Start), To: dayOut(gaps.Days.End),
		OpenShifts: mapped(gaps.Shifts, shiftWire),
		UncoveredBins: mapped(gaps.Bins, func(b farm.BinGap) api.UncoveredBin {
			return api.UncoveredBin{BinId: b.BinID, From: dayOut(b.Days.Start), To: dayOut(b.Days.End), Why: b.Why}
		})})
}
