# Sentences of reports in English. Amounts arrive formatted, with their unit.

## Words within sentences

list-and = { $all } and { $last }
list-or = { $all } or { $last }
percent-unknown = unknown
percent-over-99 = over 99 %
percent-under-1 = under 1 %

instrument-caliper = caliper
instrument-bore-gauge = bore gauge
instrument-steel-rule = steel rule
instrument-tape = tape
instrument-phone-level = phone level
instrument-angle-finder = angle finder
instrument-maker-sheet = maker sheet
instrument-photo = photo
instrument-eye = eye

verdict-goes-in = fits
verdict-goes-in-after-work = fits after work
verdict-measure-first = measure first
verdict-will-not-go = does not fit

claim-upper-seat = upper seat
claim-lower-seat = lower seat
claim-head-tube-length = head tube length
claim-upper-bore-depth = upper bore depth
claim-lower-bore-depth = lower bore depth
claim-upper-press-fit = upper press fit
claim-lower-press-fit = lower press fit
claim-upper-throat = upper throat
claim-lower-throat = lower throat
claim-steerer-length = steerer length
claim-steerer-size = steerer size
claim-bearing-recess = bearing recess
claim-hoses = hoses
claim-steering-stop = steering stop
claim-frame-material = frame material
claim-down-tube-clearance = down tube clearance
claim-bearing-condition = bearing condition
claim-pressing-consent = frame maker's consent to pressing

## The verdict

verdict-fits-if-bore = Fits as the bike is, if the bore turns out as it should: see the stop under the work.
verdict-fits = Fits as the bike is.
verdict-fits-after = { $jobs ->
    [one] Fits after one job: { $what }.
   *[other] Fits after { $jobs } jobs: { $what }.
}
verdict-not-together = Each requirement is met well enough by itself, but not all of them together; measure the closest ones more accurately.
verdict-open = Not decided yet: { $what }.
verdict-does-not-fit = Does not fit: { $what }.

## Requirements

contradicted = Readings contradict each other: { $what }. Measure again and strike the wrong one out before this is decided.
contradicted-item = { $what } ({ $least } and { $most })

consent-frame = { $frame ->
    [carbon] The head tube is carbon
   *[unknown] It is not known what the head tube is made of
}
consent-given = { consent-frame }, and the frame's maker allows pressing cups.
consent-refused = { consent-frame }, and the frame's maker does not allow pressing cups.
consent-open = { consent-frame }, and the kit's cups are pressed in: ask the frame's maker first, also before any cup comes out. Bonded cups stay.

material-nothing-cut = Nothing has to be cut.
material-name = { $material ->
    [aluminium] aluminium
    [steel] steel
    [titanium] titanium
    [carbon] carbon
   *[not_known] an unknown material
}
material-can-be-cut = The head tube is { material-name }: a trained mechanic can cut it.
material-could-be-cut = The head tube is { material-name }: should something have to be cut, a trained mechanic can.
material-carbon = The head tube is carbon: no cutting without the frame maker's written consent.
material-unknown = Something may have to be cut: find out first what the head tube is made of.

bore-depth-not-measured = The { $end } bore's depth was not measured.
bore-depth-met = The { $end } bore is { $depth } deep, the cup needs { $needed }.
bore-depth-ream = The { $end } bore is { $depth } deep and the cup needs { $needed }; it has to be reamed { $more } deeper.
bore-depth-close-ream = The { $end } bore is { $depth } deep and the cup needs { $needed }: too close to tell, but it can be reamed.
bore-depth-material = The { $end } bore is { $depth } deep and the cup needs { $needed }; whether it can be reamed deeper depends on what the head tube is made of.
bore-depth-close = The { $end } bore is { $depth } deep and the cup needs { $needed }: too close to tell (chance that it is enough: { $chance }).
bore-depth-not-met = The { $end } bore is only { $depth } deep; the cup needs { $needed }, and { $why ->
    [carbon] carbon is not reamed.
   *[most] no more than { $most } can be reamed.
}

press-fit-unknown = The { $end } bore's diameter was not measured, and the cup's is not known.
press-fit-likely = The { $end } bore was not measured; { $chance } of such bores hold the cup. Measure it before pressing.
press-sizes = At the { $end } end a cup of { $cup } in a bore of { $bore } has { $interference } of interference
press-fit-met = { press-sizes }: it holds and the tube bears it.
press-fit-ream = { press-sizes }: too tight or close to it, the bore has to be reamed.
press-fit-loose = { press-sizes }: too loose. A cup that can move is dangerous.
press-fit-tight = { press-sizes }: too tight, and this head tube cannot be reamed.
press-fit-close = { press-sizes }: measure the bore more accurately.

throat-not-measured = The { $end } throat was not measured; the tilted steerer needs { $needed }.
throat-not-stated = The kit states no { $end } throat; it follows from head tube length, the steerer's two diameters and where its taper ends.
throat-met = The { $end } throat of { $diameter } passes the tilted steerer, which needs { $needed }.
throat-close-open = The { $end } throat of { $diameter } is too close to the { $needed } the tilted steerer needs to tell; the metal can be opened.
throat-open = The { $end } throat of { $diameter } is { $short } narrower than the { $needed } the tilted steerer needs; the metal can be opened.
throat-material = The { $end } throat of { $diameter } may be too narrow for the { $needed } the tilted steerer needs; whether it can be opened depends on what the head tube is made of.
throat-close = The { $end } throat of { $diameter } is too close to the { $needed } the tilted steerer needs to tell (chance that it is enough: { $chance }).
throat-not-met = The { $end } throat of { $diameter } is { $short } narrower than the { $needed } the tilted steerer needs, and { $why ->
    [carbon] carbon is not opened.
   *[most] no more than { $most } can be opened.
}
throat-room = By the readings the steerer's least room is { $least }, on the { $side } side { $at } above the lower face{ $counts ->
    [maker] ; the kit maker's figure counts.
   *[readings] .
}

recess-not-measured = How deep the upper bearing sits below the face was not measured.
recess-met = The upper bearing sits { $depth } below the face; the kit allows { $most }.
recess-close = The upper bearing sits { $depth } below the face, too close to the { $most } allowed to tell.
recess-not-met = The upper bearing sits { $depth } below the face, deeper than the { $most } the kit reaches.

seat-same-bore = The { $end } seat is the bore of a { $found } ({ $chance }), and { $wanted } goes in the same bore.
seat-met = The { $end } seat is { $wanted } ({ $chance }), as the kit needs.
seat-kind = { $kind ->
    [drop_in] a drop-in seat
   *[cup] a pressed cup
}
seat-found = The { $end } seat is { $found }, { seat-kind } ({ $chance })
seat-found-none = The { $end } seat has no standard size
seat-needed = the kit needs { $wanted }, { seat-kind }.
seat-trap = Its bearing measures { $reading }; a bearing for { $wanted } measures { $nominal }.
seat-open = The kit needs { $wanted }; the { $end } seat may be { $candidates }.
seat-candidate-none = no standard size ({ $chance })

length-not-measured = The kit is for head tubes of { $range }; this one was not measured.
length-met = The head tube of { $length } lies within the kit's { $range }, { $spare } from the nearer end.
length-close = The head tube of { $length } is too near an end of the kit's { $range } to tell (chance that it lies within: { $chance }).
length-not-met = { $way ->
    [longer] The head tube of { $length } is { $by } longer than the kit's { $range } allow.
   *[shorter] The head tube of { $length } is { $by } shorter than the kit's { $range } allow.
}

steerer-unknown = Whether the steerer is long enough is not known.
steerer-measure-either = Measure { $in } with the fork in; or { $out } with the fork out.
steerer-measure = Measure { $in }.
steerer-long-enough = The steerer is long enough, with { $left } left for spacers.
steerer-close = The steerer is close to too short even without spacers: { $left } left (chance that it is enough: { $chance }).
steerer-too-short = The steerer is { $short } too short even without spacers, and a steerer cannot be lengthened.
steerer-lower-stem = A stem whose clamp is at most { $needed } high, instead of { $clamp }, would make up for it; the stem's and the fork's makers say whether it may go on this steerer.
steerer-wanted = { $upper } at the upper bearing and { $lower } at the crown
steerer-size-not-measured = The kit takes a steerer of { steerer-wanted }; this one was not measured.
steerer-found-upper = { $found } at the upper bearing, not measured at the crown
steerer-found-lower = { $found } at the crown, not measured at the upper bearing
steerer-found-both = { $first } and { $second }
steerer-size-met = The steerer's { $found } match the kit's { steerer-wanted }.
steerer-size-not-met = The kit takes a steerer of { steerer-wanted }; this one has { $found }.

hoses-none = No hoses run through the headset.
hoses-room = The kit leaves room for hoses through the headset.
hoses-in-the-way = Hoses run through the headset, and the kit has no room for them.
hoses-unknown = Look whether hoses run through the headset: the kit has no room for them.
stop-none = The bike has no steering stop.
stop-works = A steering stop goes on working with the kit.
stop-lost = The bike has a steering stop, which would not work with the kit.
stop-unknown = Look for a steering stop: it would not work with the kit.

down-tube-unknown = Whether the tyre clears the down tube with a steeper angle is not known: measure the gap with the fork pushed to its end, and the fork's length.
down-tube-met = With the fork pushed to its end, { $gap } stay between tyre and down tube; { $needed } are enough.
down-tube-close = With the fork pushed to its end, { $gap } would stay between tyre and down tube: too close to the { $needed } needed to tell.
down-tube-not-met = With the fork pushed to its end, only { $gap } would stay between tyre and down tube, { $short } less than needed.

bearing-mismatch-item = the { $end } one measures { $own } mm and the kit takes { $part } mm
bearing-mismatch = The bike's own bearings do not go back in: { $what }; order { $upper } (upper) and { $lower } (lower) with it.
bearing-mismatch-none = The bike's own bearings do not go back in: { $what }; the catalogue has none that fit both seats.
bearing-good = The bike's own bearings are good and go back in.
bearing-rough = The kit takes over the bike's bearings, and they are rough: order { $upper } (upper) and { $lower } (lower) with it.
bearing-rough-none = The kit takes over the bike's bearings, and they are rough; the catalogue has none that fit both seats.
bearing-unknown = The kit takes over the bike's bearings; should they prove rough, the catalogue has { $upper } (upper) and { $lower } (lower).
bearing-unknown-none = The kit takes over the bike's bearings: turn the fork in the stand and feel whether they are rough.

## Work

work-check-bore = { $way ->
    [maker] Once the old { $end } cup is out in the way the frame's maker allows, measure the bore in two directions.
   *[plain] Once the old { $end } cup is out, measure the bore in two directions.
} From { $low } to { $high }: go on. Else stop: press nothing in, enter the figure and check again.
work-open-close = Measure the { $end } throat's diameter again: { $from } is too close to the { $to } needed. If it is less, open it to { $to }.
work-deepen-close = Measure the { $end } bore's depth again: { $from } is too close to the { $to } needed. If it is less, ream it to { $to }.
work-open-maker = The kit's maker asks for { $to } at the { $end } throat and it has { $from }, though by the readings the steerer clears it. Dry fit first, turn the fork from stop to stop, and ask the kit's maker before anything is cut. If it has to be: open it to { $to }, or relieve its { $side } side by { $remove }.
work-open = Open the { $end } throat from { $from } to { $to }; relieving only its { $side } side by { $remove } is enough.
work-deepen = Ream the { $end } bore deeper, from { $from } to { $to } below the face.
work-widen = Ream the { $end } bore from { $from } to { $to }{ $depth ->
    [none] {""}
   *[other] , to { $depth } below the face
}, so that the cup of { $cup } goes in with { $interference } of interference.
work-reamer = The cutter is the reamer for { $code } ({ $low } to { $high }).
work-face = Then face the tube's end square.
work-replace = Put new bearings in: the bike's own are rough, this kit takes them over, and the catalogue sells none that fit. Match outside diameter, inside diameter, height and contact angles.

## How far the verdict holds

holds-outside = { $what } { $now }: “{ $verdict }” holds from { $from } to { $to }; outside: { $below }.
holds-between = { $what } { $now }: “{ $verdict }” holds from { $from } to { $to }; below: { $below }, above: { $above }.
holds-from = { $what } { $now }: “{ $verdict }” holds from { $from } up; below: { $below }.
holds-to = { $what } { $now }: “{ $verdict }” holds up to { $to }; above: { $above }.

## Readings

reading-row = { $what } (row { $row })
reading-left-out = Left out, since its tool or unit cannot measure it: { $rows }.
reading-lower-stack-tall = A lower stack of { $stack } mm is more than a drop-in headset has ({ $seat }: { $most } at most as a rule). Measure it again, from the head tube's lower face to the crown race seat on the fork.
target-usual-values = The head angle with a kit is only known as a range, because usual values stand in for what was not measured: { $what }. Measure them to know it closely.
reading-contradict-item = { $digits } { $unit } (row { $row }, { $tool })
reading-contradict = Readings of the { $what } contradict each other: { $rows }. Measure it again and strike the wrong one out.
reading-sheet-contradicts = The side view's numbers contradict each other (chance of that by measuring errors alone: { $chance }), and no single one explains it.
reading-wrong = The { $what } of { $stated } { $unit } contradicts the other numbers of the side view; the other numbers put it at { $others } { $unit }. It is left out here; measure it again.
reading-wrong-alone = The { $what } of { $stated } { $unit } contradicts the other numbers of the side view. It is left out here; measure it again.
reading-one-of-these = One of these numbers contradicts the others, and they cannot tell which: { $what }. Measure the easiest of them again.

## When the kit is put together

note-stands-higher = With the present spacers the steerer's end stands { $higher } higher than now: add as much in spacers above the stem, or have it cut.
note-leave-spacers-out = The kit is taller than the present headset: leave out { $less } of spacers; { $tallest } still fit.
note-carbon-spacers = { $has } of spacers under the stem of a carbon steerer; about { $limit } is the usual most, and the fork maker's figure goes first.
note-steerer-disagrees = The steerer's length measured directly and the one from the parts on it disagree: measure again.

## Predicted and measured

compared-angle = { $angle }° ± { $spread }°
compared = Measured with the kit in: { $installed }; predicted: { $predicted }.
compared-agree = They agree: { $apart }° apart, within what the two readings leave open.
compared-apart = { $way ->
    [slacker] They do not agree: the bike is { $apart }° slacker than predicted, { $ratio } times the uncertainty of the difference.
   *[steeper] They do not agree: the bike is { $apart }° steeper than predicted, { $ratio } times the uncertainty of the difference.
}
compared-wrong-way = The angle moved the other way: both halves may be turned round by half a turn, so that the kit steepens instead of slackening or the reverse. Do not ride before the marks were checked.
compared-too-little = The angle moved less than it should: the two halves may not be lined up with the frame's middle or with each other, one may be turned round, a half may not be seated, or a taller lower stack, another fork or a larger front tyre went in with it. Check the marks, then measure again on level ground.
compared-too-much = The angle moved more than it should: a lower stack, fork or front tyre may be smaller than before, a tyre may be soft, or the ground not level. Look for it, then measure again.
compared-unknown = The halves may be turned round or not lined up, other spacers or another tyre may have gone in, or the ground is not level. Check the marks, then measure again on level ground before trusting either.
