# Photos, marking and the phone as a level in English.

## Photos

measure-by-photo = Measure it on a photo
measure-by-level = From a level session
photos-take = Take a photo
photos-choose = Choose photos
photos-send = Add them
photos-how = Take it from the side, square to the bike, from three metres or more: both wheels whole, the front wheel straight, the light behind you.
photos-drop = You can also drag photos here, or paste one.
photos-private = A copy is kept: upright, without the place where it was taken. Your file stays where it is.
photos-none = There is no photo of this bike yet.
photos-none-chosen = No photo was chosen. Choose one first.
photos-name = Photo { $number }
photos-alt = Photo { $number } of { $name }
photos-marks-begun = Marks begun
photos-unmarked = Not marked yet
photos-measured = { $what } { $value }
photos-measured-other = Measured, without a head angle
photos-file-missing = The picture's file is missing or damaged. Add the photo again.
photos-adding = { $name }: being added
photos-added = { $name } is added, upright, its place removed.
photos-known = { $name } is here already.
photos-stop = Stop
photos-stopped = { $name } was stopped. Nothing of it is kept.
photos-cut-off = { $name } did not arrive. Is the program still running? Choose it again.
photos-compare = Before and after
photos-facts = { $width } × { $height } pixels, upright, its place removed
photos-facts-taken = { $width } × { $height } pixels, taken { $at }, upright, its place removed
photos-remove = Remove this photo
photos-remove-note = Its readings stay. Undo brings it back.
done-photo-added = The photo is added, upright, its place removed.
done-photo-known = This very photo is here already.
done-photos-added = { $count ->
    [one] 1 photo is added, upright, its place removed.
   *[other] { $count } photos are added, upright, their place removed.
}
done-photo-removed = The photo is removed. Its readings stay.
done-photo-read = { $count ->
    [one] 1 reading of this photo is written down.
   *[other] { $count } readings of this photo are written down.
}
photo-refused-file = { $name }: { $why }
photo-not-a-photo = This is no photo that can be read here. Choose a JPEG, PNG or WebP.
photo-heic = HEIC photos cannot be read here. Export it as JPEG, or set the camera to take JPEG.
photo-unsupported = This { $format } cannot be read: { $what }. Export it as an ordinary JPEG.
photo-cut-short = This { $format } is cut short. Copy it again from where it came from.
photo-damaged = This { $format } is damaged. Take another copy of it.
photo-too-many-bytes = The file has { $bytes } MB; at most { $limit } MB are taken in. Export it smaller.
photo-too-large = The picture has { $width } × { $height } pixels: that is too large. Export it smaller.
photo-too-much-work = Reading this file takes too long or too much memory. Export it as an ordinary JPEG.
photo-not-written = The copy could not be written. Try again.

## Marking

mark-needs-script = Marking needs a script, which this browser does not run.
mark-picture = Picture to mark. Arrow keys move the cross, Shift moves it finely, Enter sets a mark, plus and minus zoom, Backspace takes the last mark back.
mark-undo = Undo the last mark
mark-zoom-in = Zoom in
mark-zoom-out = Zoom out
mark-zoom-fit = Whole picture
mark-set = Set a mark at the cross
mark-nudge = Nudge the mark
mark-nudge-left = Mark to the left
mark-nudge-right = Mark to the right
mark-nudge-up = Mark up
mark-nudge-down = Mark down
mark-lost = That did not reach the program. Is it still running? The marks before it are kept.
mark-stage = Step { $step } of { $steps }
mark-tap-count = { $left ->
    [one] 1 more tap.
   *[other] { $left } more taps.
}
mark-wheels = Are these the two wheels?
mark-wheels-detail = The outlines should lie on the outer edges of both tyres.
mark-wheels-yes = Yes, these are the wheels
mark-wheels-no = No, I tap them myself
mark-left-tyre = Tap the tyre of the left wheel
mark-right-tyre = Tap the tyre of the right wheel
mark-tyre-detail = On its outer edge, at { $count } places all round.
mark-fork-leg = Tap the fork leg twice
mark-fork-leg-detail = High and low on the near leg, as far apart as it is straight.
mark-head-tube-top = Tap the top of the head tube
mark-head-tube-top-detail = The middle of its upper end, without the bearing cover.
mark-head-tube-bottom = Tap the bottom of the head tube
mark-head-tube-bottom-detail = The middle of its lower end, where the lower bearing begins.
mark-crown = Tap the crown race seat
mark-crown-detail = Where the fork's crown meets the lower bearing, in the middle.
mark-bottom-bracket = Tap the bottom bracket
mark-bottom-bracket-detail = The middle of the crank's end.
mark-seat-tube = Tap the seat tube twice
mark-seat-tube-detail = High and low in its middle, as far apart as it is straight.
mark-more = Mark more on this photo
mark-more-head-tube-top = Top of the head tube
mark-more-head-tube-bottom = Bottom of the head tube
mark-more-crown = Crown race seat
mark-more-bottom-bracket = Bottom bracket
mark-more-seat-tube = Seat tube
mark-not-this = Leave this out
mark-again = Tap it again
mark-again-left-tyre = Tap the left tyre again
mark-again-right-tyre = Tap the right tyre again
mark-again-fork-leg = Tap the fork leg again
mark-again-seat-tube = Tap the seat tube again
mark-by-hand-tyre = Mark it by hand, at six places
mark-by-hand-line = Take my two taps as they are
mark-begin = Begin anew
mark-drawn = What was understood is drawn over the photo
mark-refused = This gives no reading
mark-refused-left-tyre = The left tyre is not found
mark-refused-right-tyre = The right tyre is not found
mark-refused-fork-leg = The fork leg is not found
mark-refused-seat-tube = The seat tube is not found
mark-instead = Tap one of these lines instead
mark-instead-front-edge = { $number }: both ends of the near leg's front edge
mark-instead-lower-leg = { $number }: the lower leg, above the axle and below the stanchion
mark-instead-head-tube = { $number }: both ends of the head tube
mark-read = From this photo
mark-write = Write it down
mark-write-detail = { $count ->
    [one] 1 reading, with the tool photo
   *[other] { $count } readings, with the tool photo
}
mark-written = These readings are written down.
mark-nothing-sure = The marks give no value that is sure enough to be written down. Mark more, or take another photo.
snap-too-few-taps = There are { $taps } taps; it takes { $needed }.
snap-no-shape = The taps are too near each other, or in a line. Tap places far apart.
snap-outside = The taps lie outside the picture. Tap inside it.
snap-too-small = It is { $across } pixels across: too small. Come nearer, or use a larger picture.
snap-no-edge = There is no edge near the taps. Zoom in and tap nearer to the edge; where all is blurred, take the photo again.
snap-too-little = Its edge can be seen along { $percent } % only. Take the photo against a plain background, or mark it by hand.
snap-two-alike = Two edges, { $apart } pixels apart, are equally likely. Tap again, nearer to the edge that you mean.
snap-doubtful = The edge that is found is the one that you mean by { $percent } % only. Tap again, nearer to it.
snap-too-blurred = The edge is { $width } pixels wide: too blurred. Hold the camera still, focus on the bike, and take the photo again.
refused-marks = Some marks are too few, or outside the picture. Begin anew.
refused-no-ellipse = The marks on the { $wheel ->
    [front] front
   *[rear] rear
} tyre lie on no ellipse. Tap its outer edge at six places, all round.
refused-half-wheel = The marks leave { $degrees }° of the { $wheel ->
    [front] front
   *[rear] rear
} tyre free. Tap all round its outer edge.
refused-cut-off = The picture's edge cuts the { $wheel ->
    [front] front
   *[rear] rear
} wheel. Take the photo again with both wheels whole and some room round them.
refused-one-wheel = Both tyres are marked on one wheel. Mark each on its own.
refused-swapped = What is marked at the head tube is nearer to the rear wheel. Look at the fork leg and the head tube again.
refused-turned = The front wheel is turned by about { $degrees }°. Straighten it and take the photo again.
refused-disagree = The two tyres are no circles of the sizes written down, in one plane. Look at both outlines and at the tyres' sizes.
refused-mark-off = One mark is about { $pixels } pixels off: { $which }. Set it again.
refused-too-close = The camera stood { $metres } m from the bike: too near. Take the photo from three metres or more.
refused-too-oblique = The camera looked { $degrees }° past square. Take the photo from beside the bike.
refused-unexplained = No camera and no bike explain the marks. Look at each of them again, or take another photo.
doubt-mirrored = The picture seems to be mirrored; the numbers are the same.
doubt-diameter-assumed = The { $wheel ->
    [front] front
   *[rear] rear
} tyre's diameter is not measured: an ordinary one is taken. Measure it to be surer.
doubt-offset-assumed = The fork's offset is not measured: an ordinary one is taken. Measure it to be surer.
doubt-focal-found = The file does not say the focal length: it is found from the wheels.
doubt-oblique = The camera looked { $degrees }° past square; up to 30° is good.
doubt-scatter = The marks lie { $factor } times as far off as they should, so every number is less sure by that.
doubt-mark-off = One mark stands out: { $which }. Look at it again.
doubt-not-told = The marks do not tell the { $what }.

## Before and after

compare-title = Before and after
compare-before = Before
compare-after = After
compare-change = Change
compare-show = Compare
compare-needs-two = Measure two photos of this bike, one without and one with the kit. Then this page shows the change.
compare-refused = { $name }: { $why }
compare-same-camera = Both photos count as taken with one camera at one zoom, so what is wrong in both cancels.
compare-other-camera = The photos count as taken with two cameras or zooms.
compare-none = The two photos tell no number in common. Mark the same parts on both.
compare-overlay = Both photos square on, laid over each other by the rear wheel
compare-blend = How much of the photo after
compare-side = Both photos square on, at one scale
compare-other-side = The photos show the bike from two sides, so they are not laid over each other.

## The phone as a level

level-title = Level
level-how = Record with any app that writes down the accelerometer: the phone's long edge along the fork leg, then turned end for end, then with the bike turned round on the same spot. Give the samples here as a table.
level-columns = The columns are reading, bike, pose, time_s, x, y, z: one row a sample, m/s².
level-what = Which angle
level-before = The table of the session
level-after = The table of a second session, with the kit in (may be left out)
level-phone = Both sessions are of one phone
level-show = Show the angle
level-change = Change
level-first = First session
level-second = Second session
level-write = Write { $value } down
level-no-table = Choose the table of a session first.
level-slope = The floor slopes by { $degrees }°.
level-not-turned-round = The bike was read one way only, so the floor's slope is part of the angle. Turn it round on the same spot and read again.
level-phone-not-turned = The phone was laid on in one position only, so its own error is part of the angle. Turn it end for end, and its screen to the other side.
level-disagree = The readings do not agree; reading { $reading } fits worst. The uncertainty is widened. Read that one again.
level-no-reading = There is no reading with the phone's edge along the bike (pose along).
level-not-along = In reading { $reading } the phone's edge rises at { $degrees }°; expected 40° to 88°. Lay its long edge along the leg or tube.
level-leaning = The bike leans by { $degrees }°. Hold it upright, within { $most }°.
level-no-answer = The readings do not lead to an angle. Record the session again.
level-done = { $what } { $value } is written down.
