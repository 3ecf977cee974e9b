package material

// IsA says whether a liquid is the named one, an isomer or grade of it, or of
// the named class: ethanol is of the alcohols, an alcohol of the polar
// solvents. A liquid that is not known here is only itself.
func (b *Base) IsA(id, class string) bool {
	id, class = b.behavesAs(id), b.behavesAs(class)
	if id == class {
		return true
	}
	if class == solventNotNamed {
		return false
	}
	_, in := b.solventReach(id)[class]
	return in
}
