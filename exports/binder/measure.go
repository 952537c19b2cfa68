package binder

import (
	"context"
	"io"

	"github.com/xuri/excelize/v2"
)

// WriteSeen is Write for whoever measures it: seen is called with every row of a table as it goes to the library's stream writer,
// whose memory the cells are. It must not keep them.
func WriteSeen(ctx context.Context, w io.Writer, in Input, progress func(done, all int), seen func(sheet string, row int, cells []any)) error {
	_, err := writeAs(ctx, w, in, progress, func(b *builder) { b.tap = seen })
	return err
}

// Styled gives a workbook of somebody else's the styles that the cells of a binder name.
func Styled(f *excelize.File) error {
	_, err := styles(f)
	return err
}
