package store

import (
	"errors"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5/pgtype"
)

// teachIDs lets the driver send and read ids as the sixteen bytes they are.
// Without it they go through their text, a tenth of the work of a write.
func teachIDs(m *pgtype.Map) {
	m.TryWrapEncodePlanFuncs = append([]pgtype.TryWrapEncodePlanFunc{wrapIDEncode}, m.TryWrapEncodePlanFuncs...)
	m.TryWrapScanPlanFuncs = append([]pgtype.TryWrapScanPlanFunc{wrapIDScan}, m.TryWrapScanPlanFuncs...)
}

type driverID uuid.UUID

// UUIDValue gives the bytes.
func (u driverID) UUIDValue() (pgtype.UUID, error) { return pgtype.UUID{Bytes: u, Valid: true}, nil }

// ScanUUID takes the bytes.
func (u *driverID) ScanUUID(v pgtype.UUID) error {
	if !v.Valid {
		return errors.New("an id is missing where there must be one")
	}
	*u = v.Bytes
	return nil
}

func wrapIDEncode(value any) (pgtype.WrappedEncodePlanNextSetter, any, bool) {
	if id, ok := value.(uuid.UUID); ok {
		return &idEncode{}, driverID(id), true
	}
	return nil, nil, false
}

type idEncode struct{ next pgtype.EncodePlan }

func (p *idEncode) SetNext(next pgtype.EncodePlan) { p.next = next }

func (p *idEncode) Encode(value any, buf []byte) ([]byte, error) {
	return p.next.Encode(driverID(value.(uuid.UUID)), buf)
}

func wrapIDScan(target any) (pgtype.WrappedScanPlanNextSetter, any, bool) {
	if id, ok := target.(*uuid.UUID); ok {
		return &idScan{}, (*driverID)(id), true
	}
	return nil, nil, false
}

type idScan struct{ next pgtype.ScanPlan }

func (p *idScan) SetNext(next pgtype.ScanPlan) { p.next = next }

func (p *idScan) Scan(src []byte, target any) error {
	return p.next.Scan(src, (*driverID)(target.(*uuid.UUID)))
}
