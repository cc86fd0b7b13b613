package rulefile

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Text is a text by language tag. In a file that was read English is always
// there.
type Text map[string]string

// In gives the text in a language: in that of the tag, else in the language
// without its country, else in English.
func (t Text) In(tag string) string {
	if s, ok := t[tag]; ok {
		return s
	}
	base, _, _ := strings.Cut(tag, "-")
	if s, ok := t[base]; ok {
		return s
	}
	return t["en"]
}

// Bad says what is wrong with a text in one of its languages, or "". Each may
// have so many characters. A text that is not there is not bad.
func (t Text) Bad(most int) string {
	for _, tag := range slices.Sorted(maps.Keys(t)) {
		if !tagOK(tag) {
			return fmt.Sprintf("has %q for a language", tag)
		}
		if t[tag] == "" {
			return "in " + tag + " is empty"
		}
		if bad := BadLine(t[tag], most); bad != "" {
			return "in " + tag + " " + bad
		}
	}
	return ""
}

// BadLine says what is wrong with a line of text of so many characters at most,
// or "".
func BadLine(s string, most int) string {
	if utf8.RuneCountInString(s) > most {
		return fmt.Sprintf("is longer than %d characters", most)
	}
	if !utf8.ValidString(s) || strings.ContainsFunc(s, unicode.IsControl) {
		return "is not one plain line"
	}
	if strings.TrimSpace(s) != s {
		return "begins or ends with space"
	}
	return ""
}

// maxCode is the most characters of a code (house choice).
const maxCode = 60

// CodeOK reports whether s is a code: lower case letters, digits and hyphens,
// 60 at most.
func CodeOK(s string) bool {
	return s != "" && len(s) <= maxCode && !strings.ContainsFunc(s, func(c rune) bool {
		return (c < 'a' || c > 'z') && (c < '0' || c > '9') && c != '-'
	})
}

// tagOK reports whether s looks like a language tag (BCP 47): en, fr-CD.
func tagOK(s string) bool {
	return s != "" && len(s) <= 35 && !strings.ContainsFunc(s, func(c rune) bool {
		return (c < 'a' || c > 'z') && (c < 'A' || c > 'Z') && (c < '0' || c > '9') && c != '-'
	})
}
