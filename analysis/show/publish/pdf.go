package publish

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"strconv"

	"codeberg.org/go-pdf/fpdf"

	"stopladder/analysis/scan/colour"
	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/pdfmarks"
	"stopladder/analysis/show/render"
)

// pdfSide is the longest side of a page of a PDF, points (ISO 32000-1, annex C).
const pdfSide = 14400

// PDF writes a page as a PDF in its size on paper: words as text, lines as vectors,
// pictures as JPEGs with the pixels that they have at the page's width. Its colours are
// sRGB, which an output intent says.
func PDF(ctx context.Context, w io.Writer, j Job, software string) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	p := j.Page
	j.Space = colour.SRGB
	if p.H > pdfSide || p.W > pdfSide {
		return fmt.Errorf("the page would be %.0f cm high, and a page of a PDF is at most %.0f: write a PNG, or choose another arrangement", p.H/72*2.54, pdfSide/72*2.54)
	}
	pdf := pdfmarks.New("pt", p.W, p.H, pdfmarks.Meta{Title: p.Title, Subject: p.Desc, Creator: software})
	pdf.AddOutputIntent(fpdf.OutputIntentType{SubtypeIdent: fpdf.OutputIntent_GTS_PDFA1, OutputConditionIdentifier: "sRGB", Info: "sRGB IEC61966-2-1", ICCProfile: colour.SRGBProfile()})
	pdf.AddPage()
	pdfmarks.Add(pdf, 1, drawing.Rect(0, 0, p.W, p.H, groundOf(p, colour.SRGB)))
	pdfmarks.Add(pdf, 1, p.Marks...)
	b := newBands(j)
	for n, k := range b.g.order {
		r := b.g.rects[k]
		pics, err := b.of(ctx, n)
		if err != nil {
			return err
		}
		if pics == nil {
			continue
		}
		data, err := pictureJPEG(pics)
		if err != nil {
			return err
		}
		name := strconv.Itoa(n)
		pdf.RegisterImageOptionsReader(name, fpdf.ImageOptions{ImageType: "JPG"}, bytes.NewReader(data))
		s := p.Scale()
		pdf.ImageOptions(name, float64(r.Min.X)/s, float64(r.Min.Y)/s, float64(r.Dx())/s, float64(r.Dy())/s, false, fpdf.ImageOptions{ImageType: "JPG"}, 0, "")
	}
	var out bytes.Buffer
	if err := pdf.Output(&out); err != nil {
		return err
	}
	_, err := w.Write(finished(out.Bytes()))
	return err
}

// finished mends the end of a file of fpdf v0.12: with an output intent its trailer names
// the profile as the document's information, which stands one before it; and the catalog
// says that a window shows the title, not the file's name (ISO 32000-1, 12.2). Both stand
// behind everything that offsets point to but the table of offsets itself.
func finished(b []byte) []byte {
	at := bytes.LastIndex(b, []byte("/Type /Catalog"))
	table := bytes.LastIndex(b, []byte("\nxref\n"))
	end := bytes.LastIndex(b, []byte("trailer\n"))
	var size, root, info, start int
	if at < 0 || table < at || end < table {
		return b
	}
	if n, err := fmt.Sscanf(string(b[end:]), "trailer\n<<\n/Size %d\n/Root %d 0 R\n/Info %d 0 R\n>>\nstartxref\n%d", &size, &root, &info, &start); err != nil || n != 4 {
		return b
	}
	if !bytes.HasPrefix(objectAt(b[:at], info), []byte("<<\n/Producer")) {
		info--
	}
	const shows = "/ViewerPreferences << /DisplayDocTitle true >>\n"
	out := append([]byte(nil), b[:at]...)
	out = append(append(out, shows...), b[at:end]...)
	return fmt.Appendf(out, "trailer\n<<\n/Size %d\n/Root %d 0 R\n/Info %d 0 R\n>>\nstartxref\n%d\n%%%%EOF\n", size, root, info, start+len(shows))
}

// objectAt returns what follows the head of an object.
func objectAt(b []byte, n int) []byte {
	head := fmt.Appendf(nil, "\n%d 0 obj\n", n)
	if i := bytes.LastIndex(b, head); i >= 0 {
		return b[i+len(head):]
	}
	return nil
}

// of returns the n-th picture in the order of the page, and drops it.
func (b *bands) of(ctx context.Context, n int) (*render.Deep, error) {
	g := b.g
	g.begin(ctx, n+cap(b.slots)-1, b.slots)
	k := g.order[n]
	d := g.made[k]
	select {
	case <-d.done:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	delete(g.made, k)
	return d.deep, d.err
}

func pictureJPEG(d *render.Deep) ([]byte, error) {
	img := image.NewRGBA(image.Rect(0, 0, d.W, d.H))
	for i := range d.W * d.H {
		for k := range 3 {
			img.Pix[4*i+k] = uint8((uint32(d.Pix[3*i+k]) + 128) / 257)
		}
		img.Pix[4*i+3] = 255
	}
	var b bytes.Buffer
	err := jpeg.Encode(&b, img, &jpeg.Options{Quality: pdfQuality})
	return b.Bytes(), err
}
