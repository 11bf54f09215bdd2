package httpapi

import (
	"errors"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/google/uuid"
)

// defineFormats teaches the validator the string formats the contract uses
// beyond those it knows.
func defineFormats() {
	openapi3.DefineStringFormatValidator("uuid", openapi3.NewCallbackValidator(checkUUID))
}

// checkUUID takes lowercase UUIDs in their canonical form only.
func checkUUID(s string) error {
	if len(s) != 36 || s != strings.ToLower(s) {
		return errors.New("must be a lowercase UUID such as 0198c0de-0000-7000-8000-000000000001")
	}
	if _, err := uuid.Parse(s); err != nil {
		return errors.New("must be a lowercase UUID such as 0198c0de-0000-7000-8000-000000000001")
	}
	return nil
}
