//go:build linux && cgo

package main

/*
#include <malloc.h>
static void tune(void) {
#ifdef __GLIBC__
	// The toolkit frees and takes a texture for every picture that it shows.
	// With software OpenGL that makes malloc give pages back and fault them in
	// again at each frame: measured at 2 ms against 15 to 20 ms a frame.
	mallopt(M_MMAP_THRESHOLD, 32 << 20);
	mallopt(M_TRIM_THRESHOLD, 1 << 30);
	mallopt(M_TOP_PAD, 64 << 20);
#endif
}
*/
import "C"

func init() { C.tune() }
