package report

import (
	"fmt"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// cellSize is the side of a square of a confusion.
const cellSize = 2.4 * fontSize

// figure draws a confusion as squares with their counts, framed where right. A
// page has a table instead, which reads aloud.
func (k confusion) figure(name, title string) Figure {
	n := vg.Length(len(k.Names))
	fig := Figure{Name: name, Title: title, Heads: append([]string{"true"}, k.Names...), width: 7*fontSize + n*cellSize, height: 5*fontSize + n*cellSize, paint: k.draw}
	for _, row := range k.Rows {
		cells := []string{row.Name}
		for _, c := range row.Cells {
			cells = append(cells, fmt.Sprint(c.Count))
		}
		fig.Rows = append(fig.Rows, cells)
	}
	return fig
}

func (k confusion) draw(c draw.Canvas) {
	left, top := c.Min.X+5.5*fontSize, c.Max.Y-3.6*fontSize
	centre := textStyle(fontSize, ink, text.XCenter, text.YCenter)
	side := textStyle(fontSize, ink, text.XRight, text.YCenter)
	c.FillText(textStyle(0.85*fontSize, ink, text.XLeft, text.YCenter), vg.Point{X: c.Min.X + 0.5*fontSize, Y: c.Max.Y - fontSize}, "true by row, answered by column")
	for i, row := range k.Rows {
		y := top - (vg.Length(i)+0.5)*cellSize
		c.FillText(side, vg.Point{X: left - 0.6*fontSize, Y: y}, row.Name)
		c.FillText(centre, vg.Point{X: left + (vg.Length(i)+0.5)*cellSize, Y: top + 0.8*fontSize}, k.Names[i])
		for j, cell := range row.Cells {
			x := left + (vg.Length(j)+0.5)*cellSize
			// How full a square is says the share of the row; the shade lies behind.
			if cell.Level > 0 {
				part := cellSize / 2 * vg.Length(0.3+0.7*float64(min(cell.Level, 4))/4)
				c.SetColor(shade.colour())
				c.Fill(rectangle(x-part, y-part, x+part, y+part))
			}
			c.SetLineStyle(line(faint, 0.4))
			if cell.Right {
				c.SetLineStyle(line(right, 1.6))
			}
			half := cellSize/2 - 0.8
			c.Stroke(rectangle(x-half, y-half, x+half, y+half))
			count := "·"
			if cell.Count > 0 {
				count = fmt.Sprint(cell.Count)
			}
			c.FillText(centre, vg.Point{X: x, Y: y}, count)
		}
	}
}
