package records

import (
	"fmt"
	"reflect"
	"strings"
	"unicode/utf8"

	"github.com/go-playground/validator/v10"
)

// shape checks the tags of the facts. Whether the things named exist in a plan is checked in records/book, which
// knows the plan; whether the news is good, in audit.
var shape = newShape()

func newShape() *validator.Validate {
	v := validator.New(validator.WithRequiredStructEnabled())
	v.RegisterTagNameFunc(func(f reflect.StructField) string {
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		return name
	})
	rule := func(tag string, check func(string) error) {
		if err := v.RegisterValidation(tag, func(fl validator.FieldLevel) bool { return check(fl.Field().String()) == nil }); err != nil {
			panic(err) // a mistake in this file, found by any test
		}
	}
	rule("code", CheckCode)
	rule("lot", CheckLot)
	rule("sha256hex", checkSHA256)
	v.RegisterStructValidation(func(sl validator.StructLevel) {
		if r := sl.Current().Interface().(Response); r.given() != 1 {
			sl.ReportError(r.Ask, "", "Ask", "one", fmt.Sprint(r.given()))
		}
	}, Response{})
	return v
}

func checkSHA256(text string) error {
	if len(text) != 64 || strings.Trim(text, "0123456789abcdef") != "" {
		return fmt.Errorf("%q is not a SHA-256 in 64 lower-case hex digits", clip(text))
	}
	return nil
}

// CheckShape says whether an entry is well formed; every value at fault is listed. The error is an *Error of kind
// Invalid.
func CheckShape(e Entry) error {
	var faults []FieldError
	add := func(field, value, want string) {
		faults = append(faults, FieldError{Field: field, Value: value, Want: want})
	}
	row, known := RowOf(e.Kind)
	switch {
	case !known:
		return unknownKind(e.Kind)
	case e.Fact == nil || e.Fact.Kind() != e.Kind:
		return &Error{Kind: Invalid, What: "the fact is not of the entry's kind", Fields: []FieldError{{Field: "fact", Want: "a fact of kind " + string(e.Kind)}}}
	}
	if e.ID.IsZero() {
		add("id", "", "a version 7 UUID made on the device")
	}
	if e.Happened == 0 {
		add("happened", "", "when the work was done, like 2026-03-08T07:30:00Z")
	}
	if err := CheckCode(string(e.By)); err != nil {
		add("by", string(e.By), "the code of the person signing: "+err.Error())
	}
	if e.Device != "" {
		if err := CheckCode(string(e.Device)); err != nil {
			add("device", string(e.Device), err.Error())
		}
	}
	if !row.Allows(e.Meaning) {
		add("meaning", string(e.Meaning), "one of "+joinMeanings(row.Meanings))
	}
	faults = append(faults, factFaults("fact", e.Fact)...)
	if len(faults) > 0 {
		return &Error{Kind: Invalid, What: "the " + string(e.Kind) + " is not well formed", Fields: faults}
	}
	return checkSize(e, row)
}

func checkSize(e Entry, row KindRow) error {
	written, err := Format(e)
	if err != nil {
		return &Error{Kind: Invalid, What: "the " + string(e.Kind) + " can not be written down", Err: err}
	}
	if len(written.Bytes) > row.MaxBytes {
		return &Error{Kind: Invalid, What: fmt.Sprintf("the %s takes %d bytes; %d is the most", e.Kind, len(written.Bytes), row.MaxBytes),
			Do: "Shorten its texts, or put the long part on file as a document."}
	}
	return nil
}

func factFaults(under string, f Fact) (faults []FieldError) {
	if err := shape.Struct(f); err != nil {
		for _, fe := range err.(validator.ValidationErrors) {
			_, path, _ := strings.Cut(fe.Namespace(), ".")
			faults = append(faults, FieldError{Field: under + "." + path, Value: shownValue(fe), Want: want(fe)})
		}
	}
	if bad := badText(f); bad != "" {
		faults = append(faults, FieldError{Field: under, Value: bad, Want: "text in UTF-8"})
	}
	switch f := f.(type) {
	case *Answer:
		if (f.Finding == "") == f.Deviation.IsZero() {
			faults = append(faults, FieldError{Field: under, Want: "name either the finding or the deviation it answers, not both"})
		}
	case *Correct:
		faults = append(faults, correctFaults(under, f)...)
	}
	return faults
}

func correctFaults(under string, f *Correct) []FieldError {
	if f.Withdraw == (f.With != nil) {
		return []FieldError{{Field: under, Want: "either withdraw the entry, or say with what it is replaced"}}
	}
	if f.With == nil {
		return nil
	}
	if f.With.Kind == KindCorrect {
		return []FieldError{{Field: under + ".with.kind", Value: string(KindCorrect), Want: "the kind of the entry first written"}}
	}
	if f.With.Fact == nil || f.With.Fact.Kind() != f.With.Kind {
		return []FieldError{{Field: under + ".with.fact", Want: "a fact of kind " + string(f.With.Kind)}}
	}
	return factFaults(under+".with.fact", f.With.Fact)
}

// badText finds text that is not UTF-8 in a fact built in memory; the decoder refuses it in JSON.
func badText(f Fact) string {
	var bad string
	var walk func(reflect.Value)
	walk = func(v reflect.Value) {
		switch v.Kind() {
		case reflect.String:
			if !utf8.ValidString(v.String()) {
				bad = strings.ToValidUTF8(v.String(), "�")
			}
		case reflect.Pointer, reflect.Interface:
			if !v.IsNil() {
				walk(v.Elem())
			}
		case reflect.Struct:
			for i := range v.NumField() {
				if v.Type().Field(i).IsExported() {
					walk(v.Field(i))
				}
			}
		case reflect.Slice:
			for i := range v.Len() {
				walk(v.Index(i))
			}
		}
	}
	walk(reflect.ValueOf(f))
	return bad
}

func shownValue(fe validator.FieldError) string {
	switch v := fe.Value().(type) {
	case string:
		return v
	case fmt.Stringer:
		if reflect.ValueOf(v).IsZero() {
			return ""
		}
		return v.String()
	}
	if v := reflect.ValueOf(fe.Value()); v.IsValid() && v.Kind() == reflect.String {
		return v.String()
	}
	return ""
}

// want says in words what a tag asks for.
func want(fe validator.FieldError) string {
	text := shownValue(fe)
	switch fe.Tag() {
	case "code":
		return CheckCode(text).Error()
	case "lot":
		return CheckLot(text).Error()
	case "sha256hex":
		return checkSHA256(text).Error()
	case "required", "required_unless":
		return "it must be given"
	case "oneof":
		return "one of " + strings.ReplaceAll(fe.Param(), " ", ", ")
	case "gtefield":
		return "not before " + strings.ToLower(fe.Param())
	case "one":
		return "exactly one of value, yes, choice, text and photo, not " + fe.Param()
	case "min":
		return "at least " + fe.Param()
	case "max":
		if fe.Kind() == reflect.String {
			return "at most " + fe.Param() + " characters"
		}
		return "at most " + fe.Param()
	}
	return "not as it should be (" + fe.Tag() + ")"
}

func joinMeanings(ms []Meaning) string {
	var s []string
	for _, m := range ms {
		s = append(s, string(m))
	}
	return strings.Join(s, ", ")
}
