# Titles, labels and descriptions of drawings in English. Labels are short: their space is narrow.

## Titles

drawn-bike-with-kit = { $bike } with { $kit }
drawn-how-far = { $title }: how far the verdict holds
drawn-where-to-measure = Where to measure: { $what }

## Section of the head tube

drawn-front = front
drawn-rear = rear
drawn-head-tube-length = head tube { $length }
drawn-tilt = tilt { $degrees }° { $way }
drawn-place-enlarged = the marked place, enlarged { $times } times
drawn-touches = touches by { $room }, { $side }; needs { $needed } room
drawn-least-room = least room { $room }, { $side }; needs { $needed }
drawn-ream = ream { $more } deeper, to { $to }
drawn-remove = { $side ->
    [front] remove { $depth } at the front
    [rear] remove { $depth } at the rear
   *[around] remove { $depth } all round
}
drawn-remove-by-maker = { drawn-remove } (kit maker's figure; dry fit first)
drawn-seat = { $end } { $kind } { $diameter }
drawn-seat-not-measured = { $end } { $kind } not measured
drawn-seat-look = { $end } seat: what it looks like
drawn-throat = { $end } throat { $diameter }
drawn-throat-not-measured = { $end } throat not measured
drawn-inside-not-measured = inside not measured
drawn-steerer-end-not-measured = steerer's lower end not measured
drawn-old-axis = head tube's axis
drawn-new-axis = new steering axis
drawn-section = Head tube of { $length }, cut in the steering plane, front to the right.
drawn-not-measured = not measured
drawn-part-diameter = diameter { $value }
drawn-part-throat = throat { $value }
drawn-end = { $kind ->
    [seat] At the { $end } end a drop-in seat: { $parts }.
   *[bore] At the { $end } end a bore for a pressed cup: { $parts }.
}
drawn-not-tilted = The new steering axis is not tilted.
drawn-tilted = The new steering axis is tilted by { $degrees } degrees, { $way }.
drawn-room = The steerer has { $room } of room at the { $side } near the { $end } end and needs { $needed }.
drawn-at-throat = At the { $end } throat: { $words }.
drawn-at-bore = At the { $end } bore: { $words }.

## Side view

drawn-head-angle = head angle
drawn-bottom-bracket-height = bottom bracket height
drawn-reach = reach
drawn-stack = stack
drawn-wheelbase = wheelbase
drawn-trail = trail
drawn-before = before
drawn-after = after
drawn-unknown = unknown
drawn-head-tube-enlarged = the head tube, enlarged { $times } times
drawn-axis-before = axis before { $angle }°
drawn-axis-after = axis after { $angle }°
drawn-side-view = The bike from its right side.
drawn-side-view-change = The bike from its right side, before (dashed) and after (solid).
drawn-figure = { $unit ->
    [degrees] { $what }: { $value } degrees.
   *[mm] { $what }: { $value } mm.
}
drawn-figure-change = { $unit ->
    [degrees] { $what }: { $before } before, { $after } degrees after.
   *[mm] { $what }: { $before } before, { $after } mm after.
}

## Number lines

drawn-holds = How far each quantity could be another one, everything else as it is, before “{ $holds }” becomes another answer; the plain band is where it holds, hatched is beyond.
drawn-holds-row = { $what }: { $now } now; { $beyond }.
drawn-below = below { $at }: { $beyond }
drawn-above = above { $at }: { $beyond }

## Where the tool goes

drawn-not-on-a-tapered-head-tube = not on a tapered head tube
drawn-not-on-the-down-tube = not on the down tube
drawn-not-the-tyres-outer-edges = not the tyres' outer edges
drawn-not-from-the-tyre-from-the-axle = not from the tyre: from the axle
drawn-not-to-the-tyre-to-the-axle = not to the tyre: to the axle
drawn-not-to-its-lower-edge = not to its lower edge
drawn-level-at-the-rear-axles-height = level, at the rear axle's height
drawn-not-down-to-the-ground = not down to the ground
drawn-not-at-the-stem-middle-of-the-head-tubes-top = not at the stem: middle of the head tube's top
drawn-not-up-to-the-stem = not up to the stem
drawn-axle-with-the-rider-on = axle with the rider on
drawn-to-a-mark-at-the-saddle-twice = to a mark at the saddle, twice
drawn-not-from-the-ground-the-tyre-gives-way = not from the ground: the tyre gives way
drawn-the-axles-height-taken-twice = the axle's height, taken twice
drawn-not-the-rim = not the rim
drawn-fork = fork
drawn-stays = stays
drawn-not-at-the-rim = not at the rim
drawn-widest-place-knobs-included = widest place, knobs included
drawn-down-tube = down tube
drawn-front-tyre-fork-fully-compressed = front tyre, fork fully compressed
drawn-not-where-the-gap-is-wide-the-nearest-place = not where the gap is wide: the nearest place
drawn-not-from-the-races-top = not from the race's top
drawn-fork-crown = fork crown
drawn-races-seat-race-off = race's seat, race off
drawn-not-on-the-taper = not on the taper
drawn-not-above-the-seat = not above the seat
drawn-not-where-it-starts-to-narrow = not where it starts to narrow
drawn-not-where-it-has-become-thin = not where it has become thin
drawn-not-slanting-along-the-steerer = not slanting: along the steerer
drawn-not-from-the-steerers-surface-from-its-middle = not from the steerer's surface: from its middle
drawn-rubber-ring-pushed-up-by-the-seal = rubber ring, pushed up by the seal
drawn-seal = seal
drawn-not-up-to-the-crown = not up to the crown
drawn-not-up-to-the-crown-some-stays-exposed = not up to the crown: some stays exposed
drawn-head-tube-cut-open = head tube, cut open
drawn-not-on-the-bevel-at-the-mouth = not on the bevel at the mouth
drawn-not-past-the-shoulder = not past the shoulder
drawn-not-the-seat = not the seat
drawn-not-on-the-shoulder = not on the shoulder
drawn-not-on-the-bevel = not on the bevel
drawn-bearing-cut-open = bearing, cut open
drawn-not-on-the-seal-alone = not on the seal alone
drawn-not-the-lip = not the lip
drawn-the-part-that-is-pressed-in = the part that is pressed in
drawn-cup-cut-open = cup, cut open
drawn-not-to-the-inner-ring = not to the inner ring
drawn-not-with-the-headsets-cover = not with the headset's cover
drawn-not-with-the-cap = not with the cap
drawn-not-up-to-a-spacer = not up to a spacer
drawn-not-the-stems-body = not the stem's body
drawn-not-the-star-nut = not the star nut
drawn-steerer = steerer
drawn-top-spacer = top spacer
drawn-stem = stem
drawn-not-only-to-the-races-upper-edge = not only to the race's upper edge
drawn-head-tube = head tube
drawn-not-up-to-the-covers-top = not up to the cover's top
drawn-nor-down-to-the-crown = nor down to the crown
