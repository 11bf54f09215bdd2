package season

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"

	"midden/internal/farm"
)

// Canonical gives the report's bytes for keeping: JSON in UTF-8, object keys
// in alphabetical order, whole numbers only, no white space. Equal reports
// give equal bytes on any machine.
func (r Report) Canonical() ([]byte, error) {
	plain, err := json.Marshal(r)
	if err != nil {
		return nil, fmt.Errorf("report to JSON: %w", err)
	}
	// Maps are written in key order, so a detour through them sorts the keys;
	// json.Number keeps every digit.
	dec := json.NewDecoder(bytes.NewReader(plain))
	dec.UseNumber()
	var tree any
	if err := dec.Decode(&tree); err != nil {
		return nil, fmt.Errorf("report from JSON: %w", err)
	}
	var out bytes.Buffer
	enc := json.NewEncoder(&out)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(tree); err != nil {
		return nil, fmt.Errorf("report to canonical JSON: %w", err)
	}
	return bytes.TrimSuffix(out.Bytes(), []byte("\n")), nil
}

// Digest is the SHA-256 of a report's bytes in lower-case hexadecimal.
func Digest(canonical []byte) string {
	sum := sha256.Sum256(canonical)
	return hex.EncodeToString(sum[:])
}

// Open reads kept bytes back and proves them: the digest, the form, the
// balance and every split, on whole grams. It refuses with report.altered, or
// with *Imbalance when the bytes never balanced.
func Open(canonical []byte, digest string) (Report, error) {
	altered := func(format string, args ...any) (Report, error) {
		return Report{}, farm.Refuse(CodeReportAltered, "", "report: "+format, args...)
	}
	if got := Digest(canonical); got != digest {
		return altered("the digest is %s, not %s", got, digest)
	}
	var r Report
	if err := json.Unmarshal(canonical, &r); err != nil || r.Format != 1 {
		return altered("these bytes are no report of format 1")
	}
	// Also finds fields that a report does not have.
	again, err := r.Canonical()
	if err != nil || !bytes.Equal(again, canonical) {
		return altered("the bytes are not in canonical form")
	}
	if err := r.Check(); err != nil {
		return Report{}, err
	}
	return r, nil
}

// Check recomputes what must agree: the balance, the sums of each split and
// the values of the intervals. It refuses with *Imbalance or report.altered.
func (r Report) Check() error {
	if err := r.Balance.Check(""); err != nil {
		return err
	}
	if err := r.Balance.checkSigns(); err != nil {
		return err
	}
	// Adding to nothing works the derived sums out anew.
	if whole := (Flows{}).plus(r.Balance.Flows); whole != r.Balance.Flows {
		return farm.Refuse(CodeReportAltered, "", "report: accepted or diverted does not follow from the flows")
	}
	for _, split := range []struct {
		by    string
		parts []Part
	}{{"month", r.ByMonth}, {"site", r.BySite}, {"material", r.ByMaterial}, {"donor class", r.ByDonorClass}} {
		var sum Flows
		for _, p := range split.parts {
			sum = sum.plus(p.Flows)
		}
		if sum != r.Balance.Flows {
			return farm.Refuse(CodeReportAltered, "", "report: the parts by %s do not add up to the season", split.by)
		}
	}
	var bins BinPart
	for _, p := range r.ByBin {
		bins.Fed += p.Fed
		bins.ToLandfill += p.ToLandfill
		bins.ToElsewhere += p.ToElsewhere
	}
	if bins.Fed != r.Balance.Fed || bins.ToLandfill != r.Balance.BinToLandfill || bins.ToElsewhere != r.Balance.BinToElsewhere {
		return farm.Refuse(CodeReportAltered, "", "report: the bins do not add up to the season")
	}
	mix := r.Header.Methods
	if r.Received.Value != r.Balance.Received || r.Accepted.Value != r.Balance.Accepted || r.Diverted.Value != r.Balance.Diverted ||
		mix.Measured+mix.Estimated != r.Balance.Received || r.Header.RejectsExcluded != r.Balance.Rejected {
		return farm.Refuse(CodeReportAltered, "", "report: the headline does not follow from the balance")
	}
	return nil
}
