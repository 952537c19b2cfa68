package binder

import (
	"context"
	"io"

	"github.com/xuri/excelize/v2"
)

// WriteSeen is Write for whoever measures it: seen is called with every row of a table, in cells as the library's stream writer takes
// them. Their memory is used again for the next row.
func WriteSeen(ctx context.Context, w io.Writer, in Input, progress func(done, all int), seen func(sheet string, row int, cells []excelize.Cell)) error {
	var row []excelize.Cell
	_, err := writeAs(ctx, w, in, progress, func(b *builder) {
		b.tap = func(sheet string, n int, cells []cell) {
			row = row[:0]
			for i := range cells {
				row = append(row, cells[i].foreign())
			}
			seen(sheet, n, row)
		}
	})
	return err
}

// Styled gives a workbook of somebody else's the styles that the cells of a binder name.
func Styled(f *excelize.File) error {
	_, err := styles(f)
	return err
}
