package httpapi

import (
	"context"
	"encoding/hex"
	"net/http"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/service"
)

func entryOut(e service.Recorded) any {
	return api.Entry{Id: e.ID, Kind: api.EntryKind(e.Kind), Day: dayOut(e.EffectiveOn), OccurredAt: e.OccurredAt, RecordedAt: e.RecordedAt,
		ByMemberId: nonZero(e.Actor), Cause: e.Cause.Kind + ":" + e.Cause.ID.String(), ReversesEntryId: nonZero(e.Reverses),
		ReversedByEntryId: nonZero(e.ReversedBy), Reason: ptrIf(e.Note), Sha256: hex.EncodeToString(e.SHA256[:]),
		Postings: mapped(e.Postings, func(p ledger.Posting) api.Posting {
			return api.Posting{Account: p.Account.String(), Substance: string(p.Substance), Grams: int64(p.Grams)}
		})}
}

// ListEntries lists entries of the ledger, the newest recorded first.
func (s *Server) ListEntries(c echo.Context, g api.GardenId, p api.ListEntriesParams) error {
	f := service.EntryFilter{Account: value(p.Account), Kinds: string(value(p.Kind)), Reversals: value(p.Reversals),
		From: dayInPtr(p.From), Until: dayInPtr(p.To)}
	if _, err := ledger.ParseAccount(f.Account); f.Account != "" && err != nil {
		return farm.Refuse("request.malformed", "account", "account: must be a kind and an id, such as lot:0198c0de-0000-7000-8000-000000000052; got %q", f.Account)
	}
	list, err := s.svc.Entries(c.Request().Context(), actor(c), g, f, pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, entryOut)
}

// GetEntry shows one entry with its postings.
func (s *Server) GetEntry(c echo.Context, g api.GardenId, id api.EntryId) error {
	e, err := s.svc.Entry(c.Request().Context(), actor(c), g, id)
	if err != nil {
		return err
	}
	return send(c, reply[service.Recorded]{Status: http.StatusOK, Wire: entryOut}, e)
}

// ReverseEntry takes an entry back by an opposite one.
func (s *Server) ReverseEntry(c echo.Context, g api.GardenId, id api.EntryId, p api.ReverseEntryParams) error {
	in, err := body[api.Reversal](c)
	if err != nil {
		return err
	}
	r := reply[service.Recorded]{Status: http.StatusCreated, Wire: entryOut,
		Location: func(x service.Recorded) string { return gardenPath(g, "entries", x.ID) }}
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[service.Recorded], error) {
		return s.svc.ReverseEntry(ctx, a, g, id, service.Undo{ID: value(in.Id), Reason: in.Reason}, o)
	})
}

// ListStock lists what is on hand at the end of a day.
func (s *Server) ListStock(c echo.Context, g api.GardenId, p api.ListStockParams) error {
	list, err := s.svc.Stock(c.Request().Context(), actor(c), g, dayInPtr(p.Day), ledger.AccountKind(value(p.Kind)), pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, func(l service.StockLine) any {
		return api.StockLine{Account: l.Account.String(), Substance: string(l.Substance), Grams: int64(l.Grams)}
	})
}
