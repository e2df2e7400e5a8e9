package unpack

import (
	"bytes"
	"hash/adler32"
	"testing"
)

// The checksum against the standard library's hash/adler32, over pieces of all
// lengths and the bytes that sum up highest.
func TestAdler(t *testing.T) {
	high := bytes.Repeat([]byte{255}, 300_000)
	for name, b := range pictures() {
		for _, b := range [][]byte{b, high} {
			for _, step := range []int{1, 7, 8, 175, 176, 177, 5551, 5552, 5553, 100_000, 1 << 20} {
				if step == 1 {
					b = b[:min(len(b), 20_000)]
				}
				var a adler
				a.reset()
				for rest := b; len(rest) > 0; rest = rest[min(step, len(rest)):] {
					a.add(rest[:min(step, len(rest))])
				}
				if want := adler32.Checksum(b); a.sum() != want {
					t.Fatalf("%s in steps of %d: %08x, want %08x", name, step, a.sum(), want)
				}
			}
		}
	}
}

func BenchmarkAdler(b *testing.B) {
	data := pictures()["noise"][:64<<10]
	b.Run("lanes", func(b *testing.B) {
		b.SetBytes(int64(len(data)))
		var a adler
		for b.Loop() {
			a.add(data)
		}
	})
	b.Run("hash/adler32", func(b *testing.B) {
		b.SetBytes(int64(len(data)))
		for b.Loop() {
			adler32.Checksum(data)
		}
	})
}
