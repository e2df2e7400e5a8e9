package measure

// previewFactor returns the whole factor by which a scan is reduced.
func previewFactor(w, h int) int {
	return (max(w, h, 1) + PreviewSide - 1) / PreviewSide
}
