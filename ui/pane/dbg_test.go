package pane
import ("testing";"fmt";"image/color";"fyne.io/fyne/v2";"stopladder/analysis/colour")
func TestDbg(t *testing.T) {
	s := newStage(t, 2, 1.2, 300, 200)
	s.g.ShowOne(1); s.g.OneToOne(); s.settle()
	p := s.pane(0)
	shot := s.win.Canvas().Capture()
	fmt.Println(shot.Bounds(), p.w, p.h, p.img.Bounds(), p.raster.Size(), s.g.Position(), s.g.Size())
	from, _ := p.pixel(fyne.NewPos(0.01, 0.01))
	exact := make([]uint8, 4*900*600)
	colour.AssumedSRGB(65535).RGBA(exact, s.scans[1].Pix)
	i := 4*((from.Y+150)*900+from.X+150)
	fmt.Println(from, exact[i:i+3], p.img.At(150,150))
	for y:=140;y<190;y++ { for x:=140;x<190;x++ { c := color.NRGBAModel.Convert(shot.At(x, y)).(color.NRGBA); if c.R==exact[i]&&c.G==exact[i+1]{fmt.Println("at",x-150,y-150)}}}
}
