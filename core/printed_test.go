package core_test

import (
	"bytes"
	"io"
	"os/exec"
	"strings"
	"testing"

	"github.com/pdfcpu/pdfcpu/pkg/api"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"
)

// validPDF fails for what is no valid PDF.
func validPDF(t testing.TB, doc []byte) {
	t.Helper()
	api.DisableConfigDir()
	if err := api.Validate(bytes.NewReader(doc), model.NewDefaultConfiguration()); err != nil {
		t.Error(err)
	}
}

// textOf gives what stands in a PDF, as pdftotext reads it: a form feed ends
// each page.
func textOf(t testing.TB, doc []byte) string {
	t.Helper()
	cmd := exec.Command("pdftotext", "-", "-")
	cmd.Stdin = bytes.NewReader(doc)
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("pdftotext: %v", err)
	}
	return string(out)
}

// flat joins the words of a text, wherever its lines and pages break.
func flat(s string) string { return strings.Join(strings.Fields(s), " ") }

// printed gives the words of a paper that is a valid PDF.
func printed(t testing.TB, draw func(w io.Writer) error) string {
	t.Helper()
	var doc bytes.Buffer
	if err := draw(&doc); err != nil {
		t.Fatal(err)
	}
	validPDF(t, doc.Bytes())
	return flat(textOf(t, doc.Bytes()))
}
