package plain

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"regexp"
)

// Snomed is a mapping of our codes to SNOMED CT, from a file of the user: none
// comes with the program, since not everybody may use SNOMED CT. In member
// countries of SNOMED International it is free; elsewhere ask there.
type Snomed struct{ codes map[[2]string]string }

// longestMapping bounds the rows of a mapping.
const longestMapping = 100_000

// ReadSnomed reads a mapping: CSV by RFC 4180 with the head
// system,code,snomed. system is that of our code as the bundles have it, such
// as urn:x-chinlift:code:trouble.trouble; snomed is an SCTID, whose check
// digit must be right.
func ReadSnomed(r io.Reader) (*Snomed, error) {
	c := csv.NewReader(r)
	c.FieldsPerRecord = 3
	s := &Snomed{codes: map[[2]string]string{}}
	for n := 1; ; n++ {
		row, err := c.Read()
		switch {
		case errors.Is(err, io.EOF) && n > 1:
			return s, nil
		case err != nil:
			return nil, fmt.Errorf("row %d: %w", n, err)
		case n == 1:
			if row[0] != "system" || row[1] != "code" || row[2] != "snomed" {
				return nil, errors.New("row 1 is not system,code,snomed")
			}
			continue
		case n > longestMapping:
			return nil, fmt.Errorf("there are more than %d rows", longestMapping)
		case row[0] == "" || row[1] == "":
			return nil, fmt.Errorf("row %d: system or code is missing", n)
		case !sctid.MatchString(row[2]) || !verhoeff(row[2]):
			return nil, fmt.Errorf("row %d: %q is no SNOMED CT identifier", n, row[2])
		}
		key := [2]string{row[0], row[1]}
		if s.codes[key] != "" {
			return nil, fmt.Errorf("row %d: %s of %s stands twice", n, row[1], row[0])
		}
		s.codes[key] = row[2]
	}
}

func (s *Snomed) find(system, code string) string {
	if s == nil {
		return ""
	}
	return s.codes[[2]string{system, code}]
}

// An SCTID has 6 to 18 digits, does not begin with 0, and the last is a check
// digit by Verhoeff's scheme (SNOMED CT Release File Specifications, 6 SCTIDs;
// from memory).
var sctid = regexp.MustCompile(`^[1-9][0-9]{5,17}$`)

// verhoeff checks the last digit: J. Verhoeff, Error detecting decimal codes,
// Mathematical Centre Tract 29, 1969. Multiplication in the dihedral group D5
// is worked out; the permutation is his.
func verhoeff(digits string) bool {
	multiply := func(a, b int) int {
		switch {
		case a < 5 && b < 5:
			return (a + b) % 5
		case a < 5:
			return 5 + (a+b-5)%5
		case b < 5:
			return 5 + (a-5-b+5)%5
		}
		return (a - b + 5) % 5
	}
	permutation := [10]int{1, 5, 7, 6, 2, 8, 3, 0, 9, 4}
	check := 0
	for i := range len(digits) {
		d := int(digits[len(digits)-1-i] - '0')
		for range i % 8 {
			d = permutation[d]
		}
		check = multiply(check, d)
	}
	return check == 0
}
