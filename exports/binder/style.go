package binder

import "github.com/xuri/excelize/v2"

// look is how a cell is set: paper and ink. States are said in words, never by colour.
type look int

const (
	plain  look = iota // text, wrapped
	whole              // a whole number
	number             // a number as it is
	when               // date and time of the plant's clock
	day                // a date
	mono               // a hash or a code
	center
	head // a column's heading; headNumber is one over numbers
	headNumber
	title   // a sheet's name
	below   // the line below it
	label   // what the value beside it is
	prose   // a sentence over several columns
	section // a heading within a sheet
	total   // a whole number in a line of totals
	mass    // a mass: two decimals are shown, the cell holds all
	share   // a part of the whole, in percent
	lookCount
)

// numeric says whether a column of the look holds numbers to reckon with.
func (l look) numeric() bool { return l == whole || l == number || l == mass || l == share }

const (
	whenFormat  = "yyyy-mm-dd hh:mm"
	dayFormat   = "yyyy-mm-dd"
	massFormat  = "#,##0.00"
	shareFormat = "0.0%"
	fontName    = "Arial" // metric twins of it are everywhere
)

func styles(f *excelize.File) (ids [lookCount]int, err error) {
	rule := func(style int, sides ...string) (bs []excelize.Border) {
		for _, s := range sides {
			bs = append(bs, excelize.Border{Type: s, Color: "8C8C8C", Style: style})
		}
		return bs
	}
	box := rule(1, "left", "right", "top", "bottom")
	top := &excelize.Alignment{Vertical: "top", WrapText: true}
	right := &excelize.Alignment{Vertical: "top", Horizontal: "right", Indent: 1}
	left := &excelize.Alignment{Vertical: "top", Horizontal: "left"}
	font := func(size float64, bold bool) *excelize.Font {
		return &excelize.Font{Family: fontName, Size: size, Bold: bold, Color: "000000"}
	}
	whenFmt, dayFmt, massFmt, shareFmt := whenFormat, dayFormat, massFormat, shareFormat
	grey := excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{"E6E6E6"}}
	all := map[look]*excelize.Style{
		plain:      {Font: font(9, false), Alignment: top, Border: box},
		whole:      {Font: font(9, false), Alignment: right, Border: box, NumFmt: 1},
		number:     {Font: font(9, false), Alignment: right, Border: box},
		when:       {Font: font(9, false), Alignment: left, Border: box, CustomNumFmt: &whenFmt},
		day:        {Font: font(9, false), Alignment: left, Border: box, CustomNumFmt: &dayFmt},
		mono:       {Font: &excelize.Font{Family: "Courier New", Size: 8, Color: "000000"}, Alignment: top, Border: box},
		center:     {Font: font(9, false), Alignment: &excelize.Alignment{Vertical: "top", Horizontal: "center", WrapText: true}, Border: box},
		head:       {Font: font(9, true), Alignment: &excelize.Alignment{Vertical: "center", WrapText: true}, Border: box, Fill: grey},
		headNumber: {Font: font(9, true), Alignment: &excelize.Alignment{Vertical: "center", Horizontal: "right", Indent: 1, WrapText: true}, Border: box, Fill: grey},
		title:      {Font: font(14, true), Alignment: &excelize.Alignment{Vertical: "center"}},
		below:      {Font: font(9, false), Alignment: &excelize.Alignment{Vertical: "top"}, Border: rule(1, "bottom")},
		label:      {Font: font(9, true), Alignment: top, Border: box},
		prose:      {Font: font(9, false), Alignment: top},
		section:    {Font: font(11, true), Alignment: &excelize.Alignment{Vertical: "bottom"}},
		total:      {Font: font(9, true), Alignment: right, Border: append(rule(1, "left", "right", "bottom"), rule(2, "top")...), NumFmt: 1},
	}
	all[mass] = &excelize.Style{Font: font(9, false), Alignment: right, Border: box, CustomNumFmt: &massFmt}
	all[share] = &excelize.Style{Font: font(9, false), Alignment: right, Border: box, CustomNumFmt: &shareFmt}
	for l := range lookCount { // in order, so that the numbers are the same every time
		if ids[l], err = f.NewStyle(all[l]); err != nil {
			return ids, err
		}
	}
	return ids, nil
}
