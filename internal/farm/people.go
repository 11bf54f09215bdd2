package farm

import (
	"strings"
	"time"

	"github.com/google/uuid"
)

// Account is a person who signs in. It belongs to no garden.
type Account struct {
	ID           uuid.UUID
	Email        string
	DisplayName  string
	PasswordHash string
	MayFound     bool      // may found gardens
	DisabledAt   time.Time // zero: not disabled
	CreatedAt    time.Time
	Version      int
}

// Validate refuses with account.invalid.
func (a Account) Validate() error {
	var f Faults
	local, host, ok := strings.Cut(a.Email, "@")
	if !ok || local == "" || host == "" || len(a.Email) > 254 || strings.ContainsAny(a.Email, " \t\r\n<>,;") ||
		strings.Contains(host, "@") {
		f.Add("account.invalid", "/email", "email: must be one address such as name@example.org")
	}
	f.Keep(CheckName("account.invalid", "/display_name", a.DisplayName, 120))
	return f.Err()
}

// Session is one signed-in device. RefreshHash is the SHA-256 of its refresh
// token; rotated tokens share a family, so that a stolen one ends them all.
type Session struct {
	ID          uuid.UUID
	AccountID   uuid.UUID
	FamilyID    uuid.UUID
	RefreshHash [32]byte
	Device      string
	CreatedAt   time.Time
	ExpiresAt   time.Time
	UsedAt      time.Time // zero: not yet exchanged
	RevokedAt   time.Time // zero: not revoked
}

// Member is an account, or a person without one, in one garden with one role.
type Member struct {
	ID          uuid.UUID
	AccountID   uuid.UUID // zero: the person does not sign in
	Email       string    // the account's; read only
	Role        Role
	DisplayName string
	HouseholdID uuid.UUID // zero: none
	Active      bool
	CreatedAt   time.Time
	Version     int
}

// Validate refuses with member.invalid.
func (m Member) Validate() error {
	var f Faults
	f.Keep(CheckName("member.invalid", "/display_name", m.DisplayName, 120))
	if !m.Role.Valid() {
		f.Add("member.invalid", "/role", "role: must be one of %v; got %q", Roles, m.Role)
	}
	return f.Err()
}

// Baseline is where scraps would have gone without the garden.
type Baseline string

// Baselines.
const (
	BaselineLandfill Baseline = "landfill"
	BaselineKerbside Baseline = "kerbside_organics"
	BaselineHomeHeap Baseline = "home_heap"
	BaselineAnimals  Baseline = "animal_feed"
	BaselineUnknown  Baseline = "unknown"
)

// Baselines lists them all.
var Baselines = []Baseline{BaselineLandfill, BaselineKerbside, BaselineHomeHeap, BaselineAnimals, BaselineUnknown}

// Household is who a donation is from when the giver has no account. Its name
// and contact can be erased; quantities stay.
type Household struct {
	ID        uuid.UUID
	Name      string
	Plot      string
	Contact   string
	Baseline  Baseline  // where its scraps would have gone otherwise
	ErasedAt  time.Time // zero: not erased
	CreatedAt time.Time
	Version   int
}

// Validate refuses with household.invalid; a name or a plot must be there.
func (h Household) Validate() error {
	var f Faults
	if h.Name == "" && h.Plot == "" {
		f.Add("household.invalid", "/name", "name: a household needs a name or a plot")
	}
	if h.Name != "" {
		f.Keep(CheckName("household.invalid", "/name", h.Name, 120))
	}
	if !oneOf(h.Baseline, Baselines) {
		f.Add("household.invalid", "/baseline", "baseline: must be one of %v; got %q", Baselines, h.Baseline)
	}
	f.Keep(CheckText("household.invalid", "/plot", h.Plot, 40))
	f.Keep(CheckText("household.invalid", "/contact", h.Contact, 300))
	return f.Err()
}

// Erased tells whether the household's particulars are gone.
func (h Household) Erased() bool { return !h.ErasedAt.IsZero() }

// Erase drops everything that says who the household is.
func (h Household) Erase(now time.Time) Household {
	h.Name, h.Plot, h.Contact, h.ErasedAt = "", "", "", now
	return h
}
