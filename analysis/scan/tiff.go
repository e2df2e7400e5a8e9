package scan

import (
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"slices"

	"stopladder/analysis/scan/colour"
)

// Tags of TIFF 6.0 that change the meaning of the bytes, with the
// specification's names.
const (
	tagNewSubfileType  = 254
	tagSubfileType     = 255
	tagImageWidth      = 256
	tagImageLength     = 257
	tagBitsPerSample   = 258
	tagCompression     = 259
	tagPhotometric     = 262
	tagFillOrder       = 266
	tagStripOffsets    = 273
	tagDescription     = 270
	tagOrientation     = 274
	tagSamplesPerPixel = 277
	tagRowsPerStrip    = 278
	tagStripByteCounts = 279
	tagXResolution     = 282
	tagYResolution     = 283
	tagPlanarConfig    = 284
	tagResolutionUnit  = 296
	tagSoftware        = 305
	tagDateTime        = 306
	tagPredictor       = 317
	tagColorMap        = 320
	tagTileWidth       = 322
	tagTileLength      = 323
	tagTileOffsets     = 324
	tagTileByteCounts  = 325
	tagSubIFDs         = 330
	tagInkSet          = 332
	tagExtraSamples    = 338
	tagSampleFormat    = 339
	tagJPEGTables      = 347 // TIFF technical note 2
	tagEXIF            = 34665
	tagICC             = 34675
	tagDateOriginal    = 36867 // in the EXIF directory
	tagDateDigitized   = 36868
)

const (
	packNone       = 1
	packLZW        = 5
	packDeflate    = 8
	packDeflateOld = 32946
	packPackBits   = 32773
	packJPEG       = 7     // TIFF technical note 2
	packZstd       = 50000 // libtiff
)

const (
	photoWhiteIsZero = 0
	photoBlackIsZero = 1
	photoRGB         = 2
	photoPalette     = 3
	photoSeparated   = 5
	photoYCbCr       = 6
	photoLab         = 8
	photoICCLab      = 9
)

// maxSamples per pixel: three colours, alpha, infrared and some to spare.
const maxSamples = 16

// tiffLayout is a checked description of where the pixels of a TIFF are.
type tiffLayout struct {
	w, h        int
	bits        int // of a sample: 1 to 16, 24 or 32
	kind        sampleKind
	samples     int // in the file, per pixel
	photo       int
	pack        int
	predict     predictor
	planar      bool
	order       binary.ByteOrder
	chunkW      int // a strip is a chunk as wide as the picture
	chunkH      int
	across      int // chunks beside each other
	down        int // chunks below each other, in one plane
	offsets     []uint64
	counts      []uint64
	uncounted   bool   // how long the chunks are is not in the file
	strips      bool   // not tiles: the last one is cut off where the picture ends
	end         int64  // of what the file holds, where zeros follow it; 0: the file's own
	tables      []byte // of JPEG, that all chunks share
	ycc         bool   // JPEG's components are Y, Cb, Cr
	inks        *colour.Inks
	palette     []uint16 // 3 x 2^bits, interleaved RGB
	paletteMax  int      // largest value of its colours
	paletteMask int      // largest index
}

// planes returns the number of separate sets of chunks.
func (l *tiffLayout) planes() int {
	if l.planar {
		return l.samples
	}
	return 1
}

// usedPlanes returns the number of planes that hold colours; the others are not read.
func (l *tiffLayout) usedPlanes() int {
	switch {
	case !l.planar:
		return 1
	case l.photo == photoRGB:
		return 3
	}
	return 1
}

// converted reports whether samples are no light of channels, and become codes of
// colour.WideProfile.
func (l *tiffLayout) converted() bool {
	return l.photo == photoLab || l.photo == photoICCLab || l.photo == photoSeparated
}

// chunkSamples returns the number of samples that one pixel has inside a chunk.
func (l *tiffLayout) chunkSamples() int {
	if l.planar {
		return 1
	}
	return l.samples
}

// rowBytes returns the length of one row of a chunk, uncompressed.
func (l *tiffLayout) rowBytes() int { return (l.chunkW*l.chunkSamples()*l.bits + 7) / 8 }

// max returns the largest code value that a row becomes.
func (l *tiffLayout) max() int {
	if l.bits <= 8 && !l.converted() {
		return 255
	}
	return 65535
}

// most that a byte can become, by compression: used to refuse a header that
// promises more than its file can hold. Deflate: 258 bytes for two bits
// (RFC 1951) is 1032. LZW: 12-bit codes of at most 4095 bytes is 2730. PackBits:
// 128 for 2. JPEG: see openJPEG. Zstandard: a block of 128 kB from 4 bytes (RFC 8878,
// 3.1.1.2). Uncompressed: 1, but an incomplete copy is still read, down to a
// sixteenth, below which nothing worth measuring is left.
func mostExpansion(pack int) int64 {
	switch pack {
	case packLZW:
		return 2730
	case packDeflate, packDeflateOld:
		return 1032
	case packPackBits:
		return 64
	case packJPEG:
		return 6000
	case packZstd:
		return 128 << 10 / 4
	}
	return 16
}

var compressionNames = map[uint64]string{
	2: "fax compression (CCITT)", 3: "fax compression (CCITT Group 3)", 4: "fax compression (CCITT Group 4)",
	6: "old-style JPEG compression inside a TIFF", 9: "JBIG compression", 10: "JBIG compression",
	32766: "NeXT compression", 32809: "ThunderScan compression", 34661: "JBIG compression",
	34676: "SGI LogLuv compression", 34677: "SGI LogLuv compression", 34712: "JPEG 2000 compression",
	34887: "LERC compression", 34892: "lossy JPEG compression inside a TIFF", 34925: "LZMA compression",
	50001: "WebP compression", 50002: "JPEG XL compression", 52546: "JPEG XL compression",
}

var photometricNames = map[uint64]string{
	4: "a transparency mask as its picture", 6: "YCbCr colour without JPEG compression",
	10: "ITULab colour", 32803: "raw sensor data (a colour filter array)", 32844: "LogL colour", 32845: "LogLuv colour",
	34892: "raw linear sensor data", 51177: "a depth map",
}

// openTIFF reads the header of a TIFF.
func openTIFF(f *os.File, size int64, path string, lim Bounds) (*source, error) {
	dirs, err := readDirectories(f, size)
	if err != nil {
		return nil, refusal(path, err)
	}
	if isCameraRaw(f, dirs) {
		return nil, &UnsupportedError{path, cameraRaw, developed}
	}
	d, choice := choosePicture(dirs)

	l := &tiffLayout{order: d.order}
	if err := l.readSize(d); err != nil {
		return nil, refusal(path, err)
	}
	if err := checkSize(path, l.w, l.h, lim); err != nil {
		return nil, err
	}
	if err := l.readKind(d); err != nil {
		return nil, refusal(path, err)
	}
	if err := l.readShape(d); err != nil {
		return nil, refusal(path, err)
	}
	if l.chunkW > 2*lim.MaxSide || l.chunkH > 2*lim.MaxSide && d.has(tagTileLength) {
		return nil, &BoundsError{path, fmt.Sprintf("its tiles of %d x %d pixels are larger than a picture may be", l.chunkW, l.chunkH)}
	}
	most := int64(maxCost)
	if l.pack == packJPEG { // whose chunks are decoded whole
		most = lim.MaxMemory
	}
	if cost := l.cost(); cost > most {
		return nil, &BoundsError{path, fmt.Sprintf("reading its strips or tiles takes %s at once, more than the %s allowed", byteSize(cost), byteSize(most))}
	}
	promised := int64(l.w) * int64(l.h) * int64(l.samples) * int64(l.bits) / 8
	if promised/mostExpansion(l.pack) > size {
		return nil, refusal(path, fmt.Errorf("its header promises %s of picture but the file has only %s", byteSize(promised), byteSize(size)))
	}
	if err := l.readChunks(d, size); err != nil {
		return nil, refusal(path, err)
	}

	doubts := l.doubts(f, size)
	l.joinStrips()
	if l.oldLZW(f) {
		return nil, refusal(path, feature("LZW compression of the form before TIFF 5.0"))
	}

	info := l.info(d)
	info.Path = path
	if choice != "" {
		info.Notes = append(info.Notes, choice)
	}
	if o, err := d.one(tagOrientation, 1); err == nil && o >= 1 && o <= 8 {
		info.Orientation = int(o)
	} else {
		info.Notes = append(info.Notes, "The orientation tag is not valid and was ignored.")
	}
	info.Notes = append(info.Notes, doubts...)
	describe(&info, d, dirs[0])
	if d.has(tagICC) {
		if n := d.tags[tagICC].count; n > uint64(lim.MaxProfile) {
			return nil, &BoundsError{path, fmt.Sprintf("its colour profile of %s is larger than the %s allowed", byteSize(int64(n)), byteSize(int64(lim.MaxProfile)))}
		}
		if info.ICC, _, err = d.raw(tagICC, uint64(lim.MaxProfile)); err != nil {
			info.ICC = nil
			info.Notes = append(info.Notes, "The colour profile is damaged, or lies beyond the end of the file, and was ignored.")
		}
	}
	if err := l.convert(&info); err != nil {
		return nil, refusal(path, err)
	}
	return newSource(info, &tiffRaster{path: path, l: l}), nil
}

// info returns what the layout tells of the code values that will come out.
func (l *tiffLayout) info(d *directory) Info {
	info := Info{Format: "TIFF", Width: l.w, Height: l.h, Bits: 8, Channels: 3, Orientation: 1}
	if l.max() > 255 {
		info.Bits = 16
	}
	if l.pack == packJPEG {
		info.Notes = append(info.Notes, lossyNote)
	}
	if note := l.depthNote(); note != "" {
		info.Notes = append(info.Notes, note)
	}
	switch l.photo {
	case photoWhiteIsZero:
		info.Channels = 1
		info.Notes = append(info.Notes, "The file stores white as zero; code values are given with black as zero.")
	case photoBlackIsZero:
		info.Channels = 1
	case photoLab, photoICCLab:
		info.Notes = append(info.Notes, fmt.Sprintf("The file stores CIELAB in %d bits; code values are %s.", l.bits, wideName))
	case photoPalette:
		info.Bits = 8
		if l.paletteMax > 255 {
			info.Bits = 16
		}
		info.Notes = append(info.Notes, fmt.Sprintf("The file stores a palette of at most %d colours.", l.paletteMask+1))
	}
	colours := info.Channels
	if l.photo == photoSeparated {
		colours = 4
	}
	if note := l.extraNote(d, colours); note != "" {
		info.Notes = append(info.Notes, note)
	}
	return info
}

func (l *tiffLayout) readSize(d *directory) error {
	w, err := d.one(tagImageWidth, 0)
	if err != nil {
		return err
	}
	h, err := d.one(tagImageLength, 0)
	if err != nil {
		return err
	}
	if w == 0 || h == 0 {
		return errors.New("it has no width or no height")
	}
	l.w, l.h = int(min(w, 1<<40)), int(min(h, 1<<40)) // the limits come next
	return nil
}

// readKind reads what a sample means. The error is a feature where the file is
// sound and not supported.
func (l *tiffLayout) readKind(d *directory) error {
	for _, read := range []func(*directory) error{
		l.readCompression, l.readPhotometric, l.readSamples, l.readDepth, l.readFormat, l.readOrder, l.readPredictor, l.readColours, l.readJPEG,
	} {
		if err := read(d); err != nil {
			return err
		}
	}
	if l.photo == photoPalette {
		if l.bits > 16 {
			return fmt.Errorf("its palette would need %d bits", l.bits)
		}
		return l.readPalette(d)
	}
	return nil
}

func (l *tiffLayout) readCompression(d *directory) error {
	pack, err := d.one(tagCompression, packNone)
	if err != nil {
		return err
	}
	switch pack {
	case packNone, packLZW, packDeflate, packDeflateOld, packPackBits, packJPEG, packZstd:
		l.pack = int(pack)
		return nil
	}
	if name, ok := compressionNames[pack]; ok {
		return feature(name)
	}
	return feature(fmt.Sprintf("a compression of number %d", pack))
}

func (l *tiffLayout) readPhotometric(d *directory) error {
	const missing = 1 << 31
	photo, err := d.one(tagPhotometric, missing)
	if err != nil {
		return err
	}
	switch photo {
	case photoWhiteIsZero, photoBlackIsZero, photoRGB, photoPalette, photoSeparated, photoLab, photoICCLab:
		l.photo = int(photo)
		return nil
	case photoYCbCr:
		if l.pack == packJPEG {
			l.photo, l.ycc = photoRGB, true
			return nil
		}
	case missing:
		return errors.New("it does not say whether it is grey or colour")
	}
	if name, ok := photometricNames[photo]; ok {
		return feature(name)
	}
	return feature(fmt.Sprintf("a colour model of number %d", photo))
}

func (l *tiffLayout) readSamples(d *directory) error {
	samples, err := d.one(tagSamplesPerPixel, 1)
	switch {
	case err != nil:
		return err
	case samples == 0:
		return errors.New("it has no samples per pixel")
	case samples > maxSamples:
		return feature(fmt.Sprintf("%d samples per pixel", samples))
	}
	l.samples = int(samples)
	return nil
}

func (l *tiffLayout) readDepth(d *directory) error {
	bits := []uint64{1}
	if d.has(tagBitsPerSample) {
		var err error
		if bits, err = d.uints(tagBitsPerSample); err != nil {
			return err
		}
	}
	switch {
	case len(bits) == 0:
		return errors.New("it does not say how many bits a sample has")
	case slices.ContainsFunc(bits, func(b uint64) bool { return b != bits[0] }):
		return feature("samples of different depths")
	case len(bits) != 1 && len(bits) < l.samples:
		return fmt.Errorf("it gives the depth of %d samples but has %d", len(bits), l.samples)
	}
	l.bits = int(min(bits[0], 1<<20))
	return nil
}

func (l *tiffLayout) readFormat(d *directory) error {
	if d.has(tagSampleFormat) {
		formats, err := d.uints(tagSampleFormat)
		if err != nil {
			return err
		}
		for _, s := range formats {
			switch s {
			case 1, 4: // unsigned; undefined, which libtiff takes as unsigned
			case 2:
				if l.photo == photoLab { // whose a* and b* are
					continue
				}
				return feature("signed samples")
			case 3:
				l.kind = kindFloat
			default:
				return feature("complex or unknown samples")
			}
		}
	}
	switch {
	case l.kind == kindFloat && (l.bits == 16 || l.bits == 32):
	case l.kind == kindFloat:
		return feature(fmt.Sprintf("%d-bit floating-point samples", l.bits))
	case l.bits >= 1 && l.bits <= 16, l.bits == 24, l.bits == 32:
	default:
		return feature(fmt.Sprintf("%d bits per sample", l.bits))
	}
	if l.photo == photoRGB && l.samples < 3 {
		return fmt.Errorf("it is said to be RGB but has only %d samples per pixel", l.samples)
	}
	return nil
}

// readOrder reads in which order bits and samples come.
func (l *tiffLayout) readOrder(d *directory) error {
	fill, err := d.one(tagFillOrder, 1)
	if err != nil {
		return err
	}
	planar, err := d.one(tagPlanarConfig, 1)
	switch {
	case err != nil:
		return err
	case fill != 1:
		return feature("a reversed order of bits (FillOrder 2)")
	case planar != 1 && planar != 2:
		return fmt.Errorf("its planar configuration %d is not known", planar)
	}
	l.planar = planar == 2 && l.samples > 1
	return nil
}

// readPredictor reads how samples were predicted. Only these compressions define a
// predictor (TIFF 6.0, section 14; TIFF technical note 2 for Deflate); libtiff
// ignores the tag elsewhere.
func (l *tiffLayout) readPredictor(d *directory) error {
	predictor, err := d.one(tagPredictor, 1)
	if err != nil {
		return err
	}
	if l.pack != packLZW && l.pack != packDeflate && l.pack != packDeflateOld && l.pack != packZstd {
		return nil
	}
	switch predictor {
	case 1:
	case 2:
		l.predict = predictHorizontal
		if l.bits != 8 && l.bits != 16 && l.bits != 32 {
			return fmt.Errorf("its predictor is not defined for %d bits", l.bits)
		}
	case 3:
		l.predict = predictFloat
		if l.kind != kindFloat {
			return errors.New("its predictor is for floating-point samples and it has none")
		}
	default:
		return fmt.Errorf("its predictor %d is not known", predictor)
	}
	return nil
}

// readColours holds colours that are converted to what can be converted.
func (l *tiffLayout) readColours(d *directory) error {
	if !l.converted() {
		return nil
	}
	name, need := "CIELAB colour", 3
	if l.photo == photoSeparated {
		name, need = "CMYK colour", 4
		set, err := d.one(tagInkSet, 1)
		if err != nil {
			return err
		}
		if set != 1 {
			return feature("inks other than cyan, magenta, yellow and black")
		}
	}
	switch {
	case l.samples < need:
		return fmt.Errorf("it is said to be %s but has only %d samples per pixel", name, l.samples)
	case l.bits != 8 && l.bits != 16 || l.kind != kindUint:
		return feature(fmt.Sprintf("%s of %d bits", name, l.bits))
	case l.planar:
		return feature(name + " in separate planes")
	}
	return nil
}

// convert builds the way from samples that are no light of channels to codes, and
// puts the codes' profile in the place of the file's.
func (l *tiffLayout) convert(info *Info) (err error) {
	if !l.converted() {
		return nil
	}
	if l.photo == photoSeparated {
		l.inks, err = inksOf(info)
		return err
	}
	info.ICC = colour.WideProfile(wideName)
	return nil
}

// readJPEG reads the tables that the chunks of a picture share, and holds it to what
// is read.
func (l *tiffLayout) readJPEG(d *directory) error {
	if l.pack != packJPEG {
		return nil
	}
	switch {
	case l.bits != 8 || l.kind != kindUint:
		return feature(fmt.Sprintf("JPEG compression of %d bits per sample inside a TIFF", l.bits))
	case l.photo != photoRGB && l.photo != photoBlackIsZero && l.photo != photoWhiteIsZero, l.ycc && l.planar,
		l.chunkSamples() != 1 && l.chunkSamples() != 3:
		return feature("JPEG compression of other than grey, RGB or YCbCr inside a TIFF")
	}
	if d.has(tagJPEGTables) {
		tables, _, err := d.raw(tagJPEGTables, 64<<10)
		if err != nil {
			return err
		}
		l.tables = tables
	}
	return nil
}

// readPalette reads the colour map. Maps made of 8-bit colours (each value
// repeated in both bytes, or, from careless writers, only the low byte) become
// 8-bit code values.
func (l *tiffLayout) readPalette(d *directory) error {
	m, err := d.uints(tagColorMap)
	if err != nil {
		return err
	}
	n := 1 << l.bits
	if len(m) < 3*n {
		return fmt.Errorf("its palette has %d values instead of %d", len(m), 3*n)
	}
	m = m[:3*n]
	wide, low := false, true
	for _, v := range m {
		wide = wide || v>>8 != v&255
		low = low && v < 256
	}
	l.palette, l.paletteMax, l.paletteMask = make([]uint16, 3*n), 255, n-1
	if wide && !low {
		l.paletteMax = 65535
	}
	for i := range n {
		for c := range 3 {
			v := uint16(m[n*c+i])
			if l.paletteMax == 255 {
				v &= 255
			}
			l.palette[3*i+c] = v
		}
	}
	return nil
}

// extraNote returns what was done with samples beyond the colours.
func (l *tiffLayout) extraNote(d *directory, colours int) string {
	extra := l.samples - colours
	if l.photo == photoPalette {
		extra = l.samples - 1
	}
	if extra <= 0 {
		return ""
	}
	kinds, _ := d.uints(tagExtraSamples) // absent or damaged: undefined
	if len(kinds) > 0 && kinds[0] == 1 {
		return "The alpha channel was ignored; the colours were multiplied by it when the file was written."
	}
	if len(kinds) > 0 && kinds[0] == 2 {
		return "The alpha channel was ignored."
	}
	if len(kinds) > 0 && kinds[0] > 2 { // TIFF 6.0, section 18, has 0 to 2: a damaged one may have been an alpha
		return fmt.Sprintf("An extra channel of a kind that TIFF does not have (%d) was ignored: the file may be damaged, and whether its colours were multiplied by that channel is not known.", kinds[0])
	}
	if extra == 1 {
		return "One extra channel (such as infrared) was ignored."
	}
	return fmt.Sprintf("%d extra channels were ignored.", extra)
}
