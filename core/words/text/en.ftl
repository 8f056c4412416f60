# The texts of the screens in English. Sentences are short, in the second person and the present tense.
# Amounts arrive formatted; counts choose between singular and plural.

## Marks

mark-fits = Fits
mark-fits-after-work = Fits after work
mark-jobs = { $jobs ->
    [one] Fits after 1 job
   *[other] Fits after { $jobs } jobs
}
mark-measure-first = Measure first
mark-does-not-fit = Does not fit
mark-disagree = Readings disagree

## List of bikes

bikes-title = Bikes
bikes-about = Which angle-adjusting headset fits which bike, what work it needs, and what to measure next.
bikes-search = Search name, owner, tag
bikes-all = All
bikes-add = Add a bike
bikes-none = There is no bike yet. Add yours, or look around with the demo crew's bikes first.
bikes-none-found = No bike has these words. Try fewer of them.
bikes-demo = Show the Larch Hollow demo crew
bikes-demo-out = Take the demo crew's bikes out
bikes-more = More bikes
bikes-name = Name of the bike
bikes-owner = Owner, if it is not you

## Where a bike stands

standing-asked = { $sku }: { $state }
standing-no-kit = The catalogue has no kit to check
standing-no-catalogue = No maker's catalogue yet
standing-fits = { $sku } fits
standing-fits-after-work = { $jobs ->
    [one] { $sku } fits after 1 job
   *[other] { $sku } fits after { $jobs } jobs
}
standing-measure = Not decided: { $what }
standing-undecided = Not decided
standing-none-fits = No kit fits: { $reason }
standing-fitted = { $sku } is in. Measure the head angle again
standing-fitted-as-predicted = { $sku } is in: { $angle }, as predicted
standing-fitted-otherwise = { $sku } is in: { $angle }, not as predicted
standing-disagree = { $what }: { $first } against { $second }

order-queued = waits to be sent
order-underway = is on its way to the shop
order-in-doubt = may be with the shop; it asks again
order-held = waits for you
order-rejected = could not be sent
order-delivered = is with the shop
order-withdrawn = is withdrawn
shop-waiting = the shop has it
shop-question = the shop has a question
shop-accepted = the shop delivers
shop-paid = paid at the shop
shop-sent = on its way from the shop
shop-collected = you have it from the shop
shop-cancelled = the shop cannot deliver after all
shop-refused = the shop cannot deliver
shop-withdrawn = is withdrawn at the shop

## What a kit asks, in a few words

requirement-upper-seat = upper seat
requirement-lower-seat = lower seat
requirement-head-tube-length = head tube length
requirement-upper-bore-depth = upper bore too shallow
requirement-lower-bore-depth = lower bore too shallow
requirement-upper-press-fit = upper press fit
requirement-lower-press-fit = lower press fit
requirement-upper-throat = upper throat too narrow
requirement-lower-throat = lower throat too narrow
requirement-steerer-length = steerer too short
requirement-steerer-size = steerer size
requirement-bearing-recess = bearing too deep
requirement-hoses = hoses in the way
requirement-steering-stop = steering stop
requirement-frame-material = frame may not be cut
requirement-down-tube-clearance = tyre too near the down tube
requirement-bearing-condition = bearings are worn
requirement-pressing-consent = pressing not allowed

## The answer

answer-undecided = Not decided yet
answer-open = Nothing to say yet
answer-no-kit = The catalogue has no kit that can be checked.
answer-no-catalogue = Which kits there are stands in a maker's catalogue. Import one to see which fits.
answer-asked = { $sku } is asked for. The outbox tells where the request is.
answer-fitted = Ride it, then measure the head angle again with the kit in.
answer-disagree = One of them is wrong. Read it again before anything else; until then you can only send a question.
left-nothing = Nothing that you can measure decides it.
left-fork-in = { $in ->
    [one] 1 reading decides, with the fork in.
   *[other] Up to { $in } readings decide, with the fork in.
}
left-fork-out = { $out ->
    [one] 1 reading decides, with the fork out.
   *[other] Up to { $out } readings decide, with the fork out, in one go.
}
left-both = { $in ->
    [one] 1 reading with the fork in,
   *[other] Up to { $in } readings with the fork in,
} { $out ->
    [one] then 1 with it out.
   *[other] then { $out } with it out, in one go.
}
wanted-way = { $way ->
    [slacker] Slacker wanted, no amount set.
   *[other] Steeper wanted, no amount set.
}
wanted-change = { $degrees }° { $way } wanted.
wanted-angle = A head angle of { $angle }° wanted.
slacker = slacker
steeper = steeper
change = { $degrees }° { $way } on the ground, { $before } to { $after }°.
change-assumed = About { $degrees }° { $way } on the ground; the head angle is not measured yet.
bike-wrong-if = What would make this wrong?
bike-no-drawing = The section appears once the head tube's length is known.
bike-no-drawing-catalogue = The section with a kit appears once there is a maker's catalogue.
bike-no-drawing-none-fits = No kit is drawn, since none fits.
bike-drawn-with = Drawn with { $sku }
bike-measurements = Measurements

## The next step

next-catalogue = Import a maker's catalogue
next-catalogue-detail = A catalogue is a file from the maker of the kits
next-again = Measure again: { $what }
next-again-detail = Two readings contradict each other
next-doubt = Read again: { $what }
next-doubt-detail = With this reading no kit fits; one wrong digit would do that
next-ride = Ride it, then measure the head angle
next-ride-detail = The same way and on the same spot as before
next-fitted = Is { $sku } in? Note it
next-fitted-detail = Opens the boxes to tick before the first ride
next-ask = Ask the shop for { $sku }
next-ask-detail = What goes along is shown first
next-measure = Measure the { $what }
next-look = Look at the { $what }
next-look-again = Look again with the fork out: { $what }
next-wanted = What do you want?
next-wanted-detail = Slacker or steeper, and how much. Not sure is an answer
next-outbox = See the outbox
next-outbox-detail = Where the request is, and taking it back
next-measure-detail = { $kits ->
    [one] { $tool }, about { $minutes } min · 1 kit waits for it
   *[other] { $tool }, about { $minutes } min · { $kits } kits wait for it
}
next-look-detail = { $kits ->
    [one] About { $minutes } min · 1 kit waits for it
   *[other] About { $minutes } min · { $kits } kits wait for it
}

## Measuring

not-measured = not measured
not-looked-at = not looked at
not-known = not known
measure-known = By now: { $value }
measure-value = Reading
measure-unit = Unit
measure-tool = Read with
measure-erase = Take the last digit away
measure-write = Write it down
measure-trap = Watch out
measure-look = What do you see?
look-fork-out = The fork is out
written-down = { $what } { $value } is written down.
settled-nothing = { $left ->
    [0] It changes no answer.
    [one] It settles nothing yet; 1 kit is open.
   *[other] It settles nothing yet; { $left } kits are open.
}
settled-fit = { $fit ->
    [one] 1 kit fits now
   *[other] { $fit } kits fit now
}; { $left } open.
settled-do-not-fit = { $not ->
    [one] 1 kit is out now
   *[other] { $not } kits are out now
}; { $left } open.
settled-both = { $fit ->
    [one] 1 kit fits now,
   *[other] { $fit } kits fit now,
} { $not ->
    [one] 1 is out
   *[other] { $not } are out
}; { $left } open.

unit-mm = mm
unit-cm = cm
unit-in = inch
tool-caliper = caliper
tool-bore-gauge = bore gauge
tool-steel-rule = steel rule
tool-tape = tape
tool-phone-level = phone as a level
tool-angle-finder = angle finder
tool-maker-sheet = printed by the maker
tool-photo = photo
tool-eye = by eye

seen-drop-in = Drop-in bearing
seen-drop-in-detail = The bearing lies in the frame itself. You lift it out by hand.
seen-thin-lip = Pressed cup, thin lip
seen-thin-lip-detail = A ring of a millimetre or two stands outside the head tube; the bearing is inside.
seen-external-cup = External cup
seen-external-cup-detail = A cup of a centimetre or more stands outside the head tube.
seen-not-seen = I cannot tell
seen-not-seen-detail = It is hidden, or you are not sure.
seen-aluminium = Aluminium
seen-carbon = Carbon
seen-steel = Steel
seen-titanium = Titanium
seen-not-known = I do not know
seen-yes = Yes
seen-no = No
seen-good = They run well
seen-rough = Rough or loose

group-head-tube = Head tube and frame
group-upper = Upper end
group-lower = Lower end
group-steerer = Steerer, stem and spacers
group-bike = The bike from the side

question-asked-already = { $sku } was asked for already ({ $when }). Ask for one more?
question-ask-again = Yes, ask for one more
question-digit = { $value } { $unit } leaves the next digit open. Add it, or keep it as ± { $plus_minus } { $unit }.
question-keep = Yes, { $value } { $unit } is what I read

## Kits

kits-title = Kits
kits-catalogue = { $maker }, catalogue { $number }
kits-folded = { $count ->
    [one] 1 does not fit
   *[other] { $count } do not fit
}
kits-wanted = What do you want?
kits-wanted-change = Degrees on the ground
kits-wanted-angle = or a head angle of
kits-wanted-set = Set
kit-requirements = What it asks
kit-angles = The kit is made for { $nominal }°. In this head tube it tilts the steerer by { $tilt }°. The front of the bike moves with it and the bike pitches, so the head angle on the ground changes by { $ground }°.
kit-work = Work before it goes in
kit-parts = Order with it
kit-notes = When you put it together
kit-cautions = Take care
kit-fitted = Note that it is in
kit-fitted-despite = Why is it in all the same?
kit-removed = Note that it is out again
kit-is-in = This kit is in the bike.
stock = { $stock ->
    [0] none in stock
   *[other] { $stock } in stock
}
job-open = open the { $place }.
job-open-sized = open the { $place } from { $from } to { $to } mm.
job-deepen = ream the { $place } deeper.
job-deepen-sized = ream the { $place } from { $from } to { $to } mm deep.
job-widen = ream the { $place } wider.
job-widen-sized = ream the { $place } from { $from } to { $to } mm.
job-replace = put new { $place } in.
job-replace-sized = put new { $place } in.
job-check-bore = measure the { $place } before anything is pressed.
job-check-bore-sized = old cup out, measure the { $place }: { $from } to { $to } mm goes on.
place-upper-throat = upper throat
place-lower-throat = lower throat
place-upper-bore = upper bore
place-lower-bore = lower bore
place-bearings = bearings
caution-cutting = Cutting cannot be undone: ask the frame's maker first.
state-met = Met
state-met-after-work = Met after work
state-not-known = Open
state-not-met = Not met

tick-title = Before the first ride
tick-torque = Every bolt is at the torque that its maker states.
tick-play = The headset has no play and turns freely.
tick-line = Both halves are lined up with the frame.
tick-brakes = Hoses and cables do not pull when you turn the bars.
tick-mechanic = If you are not sure of any of it, a trained mechanic looks at it first.

## Asking the shop

kit-ask = Ask the shop for it
kit-ask-about = Ask the shop about it
kit-in-the-bike = In the bike
ask-title-order = Order { $sku }
ask-title-question = Ask about { $sku }
ask-only-question = The kit is not decided, or does not fit: you can ask about it, not order it.
ask-goes-along = What goes along, nothing else
ask-kit = Kit
ask-parts = Parts
ask-no-parts = none: what is in the bike goes back in
ask-bike = Bike
ask-readings = { $count ->
    [one] 1 reading, as of now
   *[other] { $count } readings, as of now
}
ask-verdict = Verdict
ask-price = Price
ask-photos = Photos
ask-no-photos = none
ask-shop = It goes to { $address }. You pay the shop, not here.
ask-no-shop = It is kept here until you name a shop.
ask-name = Your name
ask-email = E-mail
ask-phone = Telephone
ask-address = Address
ask-note = Note for the shop
ask-put = Put it in the outbox
outbox-title = Outbox
outbox-empty = Nothing is asked for yet.
outbox-number = number { $number } at the shop
outbox-withdraw = Withdraw
outbox-name-shop = Name the shop
outbox-agree = Read what you agree to
outbox-contact = Contact the shop now
order-withdrawing = is withdrawn; the shop is told
done-asked = { $sku } is in the outbox.
done-withdrawn = It is withdrawn.
done-shop = Requests go to this shop from now on.
done-shop-agree = The shop is named. Nothing is sent before you agree.
done-agreed = Agreed. What waits is sent now.
done-agreement-ended = Nothing is sent any more, and the shop is not asked.
done-contacted = The shop is being contacted.

## The book

book-title = Book
book-catalogues = Makers' catalogues
book-catalogue = { $kits ->
    [one] Number { $number } of { $issued }, 1 kit
   *[other] Number { $number } of { $issued }, { $kits } kits
}
book-shop = The shop
shop-address = The shop's address
shop-token = The token that the shop gave you
shop-token-about = It is a secret between you and the shop. It is not shown again.
shop-set = Name this shop
shop-other = Another shop
shop-consent = I agree that Steerwright sends my order requests to { $address }. With each go: the name and the ways to reach me that I enter, my note, the photos that I choose (small copies without the place and the camera's data), the bike with its name, owner and readings as it is in my field book, and what Steerwright found for the kit. The shop is also asked for its answers and its catalogue. Nothing else is sent, and nothing to anybody else. I can end this at any time, and erase who asked from any request.
shop-agree = I agree
shop-agreed = You agreed on { $when }.
shop-end = End the agreement
book-import = Import a catalogue
book-import-button = Import it
book-demo = To look around, the catalogue of the invented maker Tarn & Tiller comes with the program.
book-demo-button = Import the demo catalogue
file-choose = Choose the file
file-paste = Or paste its text
bikes-from-file = From a bike file
bikes-add-file = Add the bike of the file

## Steering

steering-title = Steering
steering-before = As it is
steering-after = After
steering-change = Change
steering-no-drawing = The side view appears once enough of the bike is measured.
steering-assumed = Taken as bikes usually are, until you measure it: { $what }.
steering-show = Show
steering-reset = As it is
slider-tilt-label = Tilt
slider-tilt = { $degrees }° { $way }
slider-as-it-is = as it is
slider-mm = { $value } mm
slider-mm-as-it-is = { $value } mm, as it is
slider-less = Less { $label }
slider-more = More { $label }
figure-missing = Needs { $needs }
figure-head-angle = Head angle
figure-seat-angle = Seat angle
figure-bottom-bracket-height = Bottom bracket height
figure-reach = Reach
figure-stack = Stack
figure-wheelbase = Wheelbase
figure-front-centre = Front centre
figure-trail = Trail
figure-mechanical-trail = Mechanical trail
figure-wheel-flop = Wheel flop

## Record

record-log = Readings
record-checks = Kept checks
record-orders = Requests
record-notes = Notes
record-empty = Nothing is written down for this bike yet.
record-struck = Struck out: { $why }
record-strike = Strike out
record-why = Why?
record-restore = Take it back in
record-check = Check with { $sku }
record-check-none = Check, no kit chosen
record-fitted = in the bike

## Bike and tabs

nav-outbox = Outbox
nav-book = Book
tab-bike = Bike
tab-kits = Kits
tab-steering = Steering
tab-photos = Photos
tab-record = Record
bike-edit = Name, owner, tags, notes
bike-name = Name
bike-owner = Owner
bike-tags = Tags, separated by commas
bike-notes = Notes
bike-save = Save
nav-back = Back to the bikes
back = Back
page-changed = The book was changed elsewhere. Show it as it is now
skip = To the content

## What was done

done-added = { $name } is added.
done-changed = { $name } is changed.
done-demo = { $count } bikes of the demo crew are here, with the tag Demo.
done-demo-out = { $count } bikes of the demo crew are out again.
done-written = { $what } is written down.
done-seen = { $name }: noted.
done-wanted = { $name }: what you want is noted.
done-struck = The reading is struck out. It stays in the record.
done-restored = The reading counts again.
done-fitted = { $sku } is in. After the first ride, measure the head angle again.
done-removed = The kit is out again.
done-undone = Undone: { $what }.
undo = Undo
undo-nothing = There is nothing to undo.
undo-other = Something else was done since. The last thing is: { $what }.

## What went wrong

error-name = A bike needs a name, such as the one on its frame.
error-value = Type the number that you read.
error-wanted = { $value } is not possible; expected { $low } to { $high } degrees.
error-wanted-both = Choose one: degrees on the ground, or a head angle.
error-why = Say why, so that whoever reads the record understands it.
error-form = The form did not arrive whole. Go back and send it again.
error-title = That did not work
error-not-there = This page is not there.
error-forbidden = This page opens only from the address that the program printed, and that address works once. Start the program again for a new one.
