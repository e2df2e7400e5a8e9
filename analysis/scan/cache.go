package scan

import (
	"container/list"
	"context"
	"image"
)

// DefaultCacheBytes is the memory that a Cache takes when it is not told.
const DefaultCacheBytes = 96 << 20

// Cache is a Source that remembers what Region decoded, in pieces that follow
// the file's strips or tiles, so that moving about in a picture at full size
// decodes each of them once. What was used longest ago goes first. Streaming and
// sweeping pass it by. Like every Source it serves one goroutine at a time.
type Cache struct {
	Source
	most, used int64
	w, h       int // of a piece
	pieces     map[image.Point]*list.Element
	order      *list.List // of *piece, most recently used first
}

type piece struct {
	at   image.Point
	rect image.Rectangle
	pix  []uint16
}

// NewCache lays a cache of at most so many bytes over src; 0 is
// DefaultCacheBytes.
func NewCache(src Source, bytes int64) *Cache {
	if bytes <= 0 {
		bytes = DefaultCacheBytes
	}
	c := &Cache{Source: src, most: bytes, w: 512, h: 512, pieces: map[image.Point]*list.Element{}, order: list.New()}
	if s, ok := src.(*source); ok {
		if t, ok := s.raster.(*tiffRaster); ok {
			c.w, c.h = t.l.chunkW, t.l.chunkH
			if t.l.pack == packNone {
				c.w, c.h = 512, 256
			}
			// Small strips and tiles are taken together, up to some 256 rows or columns.
			c.w *= max(1, 256/c.w)
			c.h *= max(1, 64/c.h)
			if s.info.Orientation >= 5 {
				c.w, c.h = c.h, c.w
			}
		}
	}
	return c
}

// Used is the memory taken by pixels that are remembered.
func (c *Cache) Used() int64 { return c.used }

// Region is described at Source.
func (c *Cache) Region(ctx context.Context, r image.Rectangle) ([]uint16, error) {
	in := c.Info()
	if err := checkRegion(in, r); err != nil {
		return nil, err
	}
	whole := image.Rect(0, 0, in.Width, in.Height)
	if 6*int64(min(c.w, in.Width))*int64(min(c.h, in.Height)) > c.most/2 {
		return c.Source.Region(ctx, r) // a piece would be the whole cache
	}
	out := make([]uint16, 3*r.Dx()*r.Dy())
	for py := r.Min.Y / c.h; py*c.h < r.Max.Y; py++ {
		for px := r.Min.X / c.w; px*c.w < r.Max.X; px++ {
			rect := image.Rect(px*c.w, py*c.h, (px+1)*c.w, (py+1)*c.h).Intersect(whole)
			p, err := c.piece(ctx, image.Pt(px, py), rect)
			if err != nil {
				// A piece reaches beyond what was asked for, into rows that may be
				// missing: the source knows whether those asked for are.
				return c.Source.Region(ctx, r)
			}
			part := rect.Intersect(r)
			for y := part.Min.Y; y < part.Max.Y; y++ {
				from := 3 * ((y-rect.Min.Y)*rect.Dx() + part.Min.X - rect.Min.X)
				copy(out[3*((y-r.Min.Y)*r.Dx()+part.Min.X-r.Min.X):], p.pix[from:from+3*part.Dx()])
			}
		}
	}
	return out, nil
}

func (c *Cache) piece(ctx context.Context, at image.Point, rect image.Rectangle) (*piece, error) {
	if e := c.pieces[at]; e != nil {
		c.order.MoveToFront(e)
		return e.Value.(*piece), nil
	}
	size := 6 * int64(rect.Dx()) * int64(rect.Dy())
	for c.used+size > c.most && c.order.Len() > 0 { // room first, so that the bound holds
		old := c.order.Remove(c.order.Back()).(*piece)
		delete(c.pieces, old.at)
		c.used -= 6 * int64(old.rect.Dx()) * int64(old.rect.Dy())
	}
	pix, err := c.Source.Region(ctx, rect)
	if err != nil {
		return nil, err
	}
	p := &piece{at, rect, pix}
	c.pieces[at] = c.order.PushFront(p)
	c.used += size
	return p, nil
}

// ReadsRegions says what the source below says.
func (c *Cache) ReadsRegions() bool {
	r, ok := c.Source.(interface{ ReadsRegions() bool })
	return ok && r.ReadsRegions()
}
