// Package media takes in pictures and sounds from cameras and phones: what they
// are is told by their content, never by a name; everything that they say about
// where, with what and by whom they were made is left out; the time and which
// side is up stay.
//
// A JPEG keeps the segments that its image needs and one small Exif segment of
// ours; a PNG the chunks of its image; a WebP likewise. What stands behind the
// end of the image, such as a second one with data of its own, goes. The image
// itself is not coded anew. In sound, the boxes, chunks and elements that hold
// descriptions are overwritten with zeros; an Ogg stream gets comments that say
// nothing, and its pages are sealed anew.
//
// Everything here is arithmetic over bytes that may be hostile: lengths are
// checked before they are used, the size of an image before it is decoded. The
// functions are safe for concurrent use; each may take [MostMemory] while it runs.
package media
