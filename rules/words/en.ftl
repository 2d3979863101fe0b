# What people read in a room, in English. Plain and short: no ratio, no quoted name, no standard's
# number. A line is `group-code = sentence`; { $name } is a parameter. Other languages have the
# same lines, each with the same parameters.

## What is to be done, where the room file does not say it in its own words

task-take_off = Please take the panels off the screen.
task-sides = Please fit the panels at the sides of the screen.
task-top_and_bottom = Please fit the panels at the top and bottom of the screen.

## What a prompt says at each of its stages

prompt-asked = { $task }
prompt-reminded = A reminder. { $task }
prompt-at_the_screen = { $light ->
    [dark] The picture is dark now.
    [told] The picture should be dark now: make sure before you go near.
   *[lit] The picture could not be made dark: switch the projector's light off, or keep out of its beam.
} { $task }
prompt-light_comes_back = Are you still at the screen? The light comes back soon: step away, or ask for more time.

## What to take care of

caution-ready_first = Press Ready before you go: the picture goes dark first.
caution-room_light = Put a low light on in the room, and leave the exit lights on.
caution-no_if_busy = Press No if nobody is free: the picture stays as it is.
caution-beam = Keep out of the beam, and never look into the lens.
caution-two_people = Large panels take two people, and nothing may hang by one hook alone.
caution-done_when_away = Press Done when you are away from the screen.
caution-done_or_no = Press Done when you are away from the screen, or No if it cannot be done.
caution-light_returns = If nobody answers, the light comes back by itself.

## What may be answered

choice-ready = Ready
choice-done = Done
choice-no = No
choice-all_away = Everybody is away from the screen
choice-not_tonight = Not tonight
choice-more_time = More time

## Why something is done, where no row of the room's rules says so

reason-person_asked = Somebody asked for it.
reason-chosen_last = Somebody chose it so the last time.
reason-at_screen = Somebody is at the screen: nothing may dazzle them.
reason-menu = Menus are never stretched.
reason-light_back = Nobody is at the screen any more: the light comes back.
reason-inside_panels = The picture keeps off the panels.
reason-newer_picture = A newer picture takes its place.
reason-newer_setting = A newer setting takes its place.
reason-no_light = The projector gives no light any more.
reason-technician = A technician is at work.
reason-panels_reported = Somebody has said how the panels stand.
reason-answered_done = Somebody has said that it is done.
reason-answered_late = Somebody has said, a little late, that it is done.
reason-answered_no = Somebody has said no.
reason-not_tonight = Somebody has said: not tonight.
reason-nobody_free = Somebody has said that nobody is free.
reason-all_away = Everybody is away from the screen.
reason-not_wanted = It is not needed any more.
reason-not_answered = Nobody has answered.
reason-session_over = The evening is over.

## Worth knowing

note-contradicts = For a whole title two devices did not agree on the picture's shape: please have somebody look at that.
note-cue_failed = { $named ->
    [yes] This did not do as it was told: { $what }.
   *[no] Something in the room, such as a light or a curtain, did not do as it was told.
}
note-override_ended = { $why ->
    [given_back] The room looks after the picture again.
    [time] The time is over: the room looks after the picture again.
    [title] What was on is over: the room looks after the picture again.
    [found] The lens is found: the room looks after the picture again.
    [not_found] The lens could not be found: the room looks after the picture again.
    [forgotten] What was chosen is forgotten: the room looks after the picture again.
   *[session] The evening is over: the room looks after the picture again.
}
note-override_begun = { $why ->
    [lens_moved] Somebody has moved the lens: it is left where they put it.
    [undo] Somebody has taken the last change back: what stood before is put back.
    [find_lens] Somebody wants the lens found: it is sent to where it belongs.
    [last_time] It is shown as somebody chose it the last time.
   *[person] Somebody has taken over: it stays as they want it.
}
note-lens_elsewhere = The lens did not come to rest where it was sent.
note-lens_lost = The lens has not reported back: nobody knows where it stands.
note-look_at_lens = The lens has moved many times: please have somebody see that it still stands right.
note-many_travels = The lens has moved a lot tonight: please have somebody see what moves it.
note-marked = Somebody said that this was wrong.
note-picture_failed = The picture could not be set as it should be.
note-recall_refused = The lens could not be moved.
note-rules_circle = The room's rules contradict each other here. Please tell whoever set up the room.
note-rules_overlap = Two of the room's rules contradict each other here. Please tell whoever set up the room.
note-title_remembered = The room remembers from the last time how this one goes.
note-travel_repeated = The lens reported the same move twice: it counts once.
note-nobody_free = Somebody has said that nobody is free to fit panels tonight.

## Why something waits

hold-no_source = Nothing is being shown yet.
hold-service = A technician is at work: everything waits until they have finished.
hold-projector = The projector gives no light: everything waits for it.
hold-travelling = The lens is moving: one thing at a time.
hold-at_screen = Somebody is at the screen: everything waits for them.
hold-paused = It is paused: nothing moves during a pause.
hold-lens_unknown = Nobody knows where the lens stands, so it stays still while something may be on.
hold-lens_nowhere = The lens is not where it belongs, or nobody knows where it is.
hold-panels = The lens waits, because panels may be in the way.
hold-first_minutes = It is well under way: the lens stays where it is until the end.
hold-per_title = The lens has moved often enough for one film.
hold-per_night = The lens has moved often enough for one night.
hold-put_back = Somebody has put the lens back for pictures like this: it stays so tonight.
hold-unreached = The lens did not get there last time: it is tried again once something changes.
hold-asked = Somebody has been asked to see to the panels: the lens waits for them.
hold-circle = The room's rules contradict each other here: everything waits until something changes.
hold-flash = The picture has only just changed: one moment.
hold-linger = It waits a moment, in case this changes again.
hold-picture = First the picture changes, then the lens moves.
hold-nearest = The picture that was wanted does not fit here: it is shown as it was made.
hold-helper = Nobody is free to fit panels for now.
hold-mid_title = It is well under way: nobody is asked to get up now.
hold-left_alone = Everything is left as it is, so no picture is set, though nobody knows which one stands.
hold-menu = A menu is not stretched: what you chose counts once something plays.
hold-travel_first = First the lens moves, then the panels are fitted.

## Why something was not taken

refusal-at_screen = Somebody is at the screen: it stays dark until they say that they are done, or somebody says that everybody is away.
refusal-bad_room = The new room file has mistakes: the old one stays.
refusal-beyond_frame = That report cannot be right: nothing has changed.
refusal-contract = That was meant for another version of roomcue: nothing has changed.
refusal-format = That report cannot be right: nothing has changed.
refusal-malformed = That was not understood: nothing has changed. Choose from what is offered.
refusal-no_more_time = There is no more time to give: the light comes back when it was said to. Be away from the screen by then.
refusal-not_asked = That question is over: nothing has changed. If you still want the panels, ask for them yourself.
refusal-not_lost = The lens is where it should be, or on its way there: there is nothing to find.
refusal-not_open = That is over already: nothing has changed.
refusal-not_remembered = Nothing is remembered of that: there is nothing to forget.
refusal-not_shown = Something else is being shown now: nothing has changed. Ask again for what is on now.
refusal-nothing_to_undo = Nothing has moved that could be put back. Choose what you want instead.
refusal-out_of_range = That cannot be chosen here: nothing has changed. Choose from what is offered.
refusal-redelivered = That was heard already.
refusal-repeated = That was heard already.
refusal-replaced = A newer room file has come: that one is not used.
refusal-retained = That is too old to count: nothing has changed. Ask again if you still want it.
refusal-stale = That comes too late: nothing has changed. Ask again if you still want it.
refusal-too_long = That was too long: nothing has changed. Say it in fewer words.
refusal-unknown_name = That is not known in this room: nothing has changed. Choose from what is offered.
refusal-unknown_topic = That is not known in this room: nothing has changed.

## What a reply says where nothing had to be decided

reply-stands = It is so already.
reply-more_time = There is more time now.
reply-forgotten = That is forgotten: the room learns it anew.
reply-room_taken = The new room file is used from now on.
reply-known = { $named ->
    [yes] Thank you, that is known now. { $what }: { $value }.
   *[no] Thank you, that is known now.
}
reply-noted = Thank you, that is written down for whoever looks after the room.

## What a reply says to whoever said it; others read that somebody did

reply-at_screen = Thank you. Wait until the picture is dark.
reply-answered_done = Thank you. The room goes on from here.
reply-answered_late = Thank you. It came a little late, and it counts all the same.
reply-answered_no = That is all right: nobody is asked again until this is over.
reply-not_tonight = That is all right: nobody is asked again tonight.
reply-all_away = Thank you. Nobody is at the screen, so the light may come back.
reply-nobody_free = That is all right: nobody is asked tonight.
reply-override_begun = As you wish: it stays as it is now.
reply-person_asked = As you wish.

## What helps against what something waits for

help-no_source = Start something, or choose what to watch.
help-service = Ask whoever is at work how long it takes.
help-projector = Switch the projector on, or wait until it is warm.
help-travelling = It goes on once the lens has arrived.
help-at_screen = Whoever is at the screen presses Done, or somebody says that everybody is away.
help-paused = It goes on once it plays again, or when it is stopped.
help-lens_unknown = Stop what is playing, or send the lens to one of its places with the projector's remote.
help-lens_nowhere = Say Find the lens: it is sent to where it belongs.
help-panels = Say how the panels stand, or ask for them to be taken off.
help-first_minutes = Ask for it yourself, or wait until the end.
help-per_title = Ask for it yourself, or wait for the next one.
help-per_night = Ask for it yourself, or wait until tomorrow.
help-put_back = Say that the room shall look after the picture again.
help-unreached = Ask for it once more.
help-asked = Answer the question about the panels.
help-circle = Take over by hand, and tell whoever set up the room.
help-flash = It goes on by itself in a moment.
help-linger = It goes on by itself in a moment.
help-picture = It goes on by itself in a moment.
help-nearest = Choose another place of the lens first, or ask for the panels to be taken off.
help-helper = Say when somebody is free to see to the panels, or ask for them yourself.
help-mid_title = Ask for it yourself, or wait until the end.
help-left_alone = Choose a picture, or let the room decide again. Otherwise one is set when the next thing begins.
help-menu = It goes on once something plays.
help-travel_first = It goes on once the lens has arrived.

## What is wrong with roomcue itself

fault-disk_full = The disk of the room's computer is full: until there is space again, the room does nothing that it is told.
fault-journal_unwritable = The room cannot write its journal: until it can again, it does nothing that it is told.
fault-journal_damaged = The room's journal is damaged: the room goes on, but please tell whoever looks after it.
fault-broker_refuses = The room is not allowed to say all that it has to, so its orders may reach nobody: please tell whoever looks after it.

## What is put back

undo-panels = Somebody is asked to put the panels back as they were.
undo-picture = The picture goes back to how it was.
undo-preset = The lens goes back to where it was.

## What comes next

next-cue = { $named ->
    [yes] { $what }: { $value }.
   *[no] Something else in the room changes, such as a light or a curtain.
}
next-goes_dark = The picture goes dark.
next-lens = The lens moves.
next-lens_arrives = The lens arrives.
next-light_back = The light comes back.
next-nothing = Nothing happens now.
next-override_ends = The room looks after the picture again.
next-picture = The picture changes.
next-prompt = Somebody is asked to see to the panels.
next-prompt_over = The question about the panels is over.
next-reminder = There is a reminder about the panels.
next-to_the_screen = Whoever is ready is sent to the screen.
next-until_arrival = It stays so until the lens has arrived.
next-until_session = It stays so until the evening is over.
next-until_time = It stays so until the time that was named.
next-until_title = It stays so until this is over.
next-warning = Whoever is at the screen is warned that the light comes back.

## What stands on the buttons and above the parts of the room's page

label-as_made = As made
label-automatic = Automatic again
label-cannot = It cannot be done
label-cropped = Larger
label-default_part = Automatic
label-do_it_anyway = Do it anyway
label-facts = Tell the room
label-find_lens = Find the lens
label-free_again = Somebody is free
label-guest = Guest { $number }
label-hands = Leave it, or undo
label-lens_at = Other zoom
label-leave_title = Leave it until this is over
label-leave_tonight = Leave it tonight
label-light_back_in = Light back in
label-lights = Lights and the like
label-lines_below = Room for lines
label-link_enter = Open the room's page
label-look_again = Look again
label-name_save = Keep
label-name_yours = You: { $who }
label-no = No
label-number_set = Set
label-panels_off = No panels
label-rooms = Rooms
label-undo = Undo
label-undo_since = { $by ->
    [rules] Undo what the room moved at { $time }
    [named] Undo what { $who } moved at { $time }
   *[person] Undo what somebody moved at { $time }
}
label-ways = My way
label-whole = Whole
label-widened = Wider
label-with_panels = Panels
label-wrong = That was wrong
label-yes = Yes

## What only the room's page says

page-answer_missing = No answer came: look at how it stands before you press again.
page-at_screen_of = { $who } is at the screen.
page-at_screen_unnamed = Somebody is at the screen.
page-at_screen_yours = You are at the screen.
page-cost_cut = A little is cut off at the top and bottom.
page-cost_lens = The lens moves: { $seconds } seconds.
page-cost_people = Somebody goes to the screen.
page-cost_wider = Everything gets a little wider.
page-file_new = The room has a new room file, which is being read.
page-file_unreadable = The room has a new room file, which this page cannot read. Ask whoever looks after the room to start the page again, in the same version as roomcue.
page-gone = roomcue is not answering. This is how it stood at { $time }.
page-gone_faulty = { $words } This is how it stood at { $time }.
page-is_paused = { $what } is paused.
page-is_playing = { $what } is playing.
page-is_stopped = { $what } has stopped.
page-is_unknown = Nobody has said what is playing.
page-link_ask = This link is for { $who }. It can be used once.
page-link_used = This link no longer works. Ask whoever looks after the room for a new one.
page-name_ask = What are you called?
page-next = { $time }: { $words }
page-no_light_from_here = Nothing here brings the light back before { $who } says so.
page-no_room = There is no such page.
page-no_word = roomcue is not answering.
page-not_allowed = You may not do this from here. Open the page anew, or ask for a link.
page-only_if_you = Press Done only if it is you.
page-page_lost = The page has lost its connection. It comes back by itself.
page-panels_free = No panels are fitted.
page-panels_on = Panels are fitted.
page-panels_unknown = Nobody knows how the panels stand.
page-seen_dark = The picture is dark.
page-seen_ends = The picture leaves the top and the bottom free.
page-seen_fills = The picture fills its place.
page-seen_inside = The picture leaves something free all round.
page-seen_moving = The lens is moving.
page-seen_nobody_knows = Nobody has said how the picture stands.
page-seen_ordered = The picture has been asked for, and no answer has come yet.
page-seen_sides = The picture leaves the sides free.
page-too_often = That was too often: wait a moment.
page-wait_for_dark = Wait here until the picture is dark.
page-why_not = Why not?

## What stands above the parts of the papers, and in their tables

heading-by_itself = What happens by itself
heading-care = Take care
heading-film = Film
heading-kind_film = Wide films
heading-kind_scope = Very wide films
heading-kind_series = Wide series
heading-kind_square = Old films and old television
heading-kind_television = Series, matches and most television
heading-kind_widest = The widest films
heading-kinds = What each kind of picture looks like
heading-lens = Lens
heading-light = Light
heading-no = How to say no
heading-panels = Panels
heading-pixels = Detail
heading-quote = What each way gives, and what it costs
heading-quote_narrower = { $kind }, the narrower ones
heading-quote_nothing = Stays
heading-quote_own = Its own place
heading-quote_wider = { $kind }, the wider ones
heading-stretch = One film, three ways: which do you like best?
heading-title = How your screen behaves
heading-travel = Move
heading-width = Width

## What the papers say that families read

paper-care_ladder = A ladder takes two people, with the projector's light off, and nothing near the hot air that it blows out.
paper-care_trades = Wiring, motors and whatever hangs from the ceiling are for licensed trades.
paper-ends_dark = The top and the bottom stay dark.
paper-fills = It fills the screen.
paper-frame_dark = It stands in the middle, with dark all round.
paper-games_alone = Nothing moves while this is in use: { $sources }.
paper-give_back = Press Automatic again, and the room decides as before.
paper-in_this_room = This is how your room shows it.
paper-keep_it = Choose another picture yourself at any time; it stays until what you watch is over.
paper-lens_moves = The lens moves first.
paper-lens_never = The lens stays where it is.
paper-lens_travels = At the beginning of a title the lens may move, for up to { $seconds } seconds each time. The most moves for a title: { $count }.
paper-light_with_lens = While the lens moves the picture is small; that is no fault.
paper-panels_asked = You are asked before anybody has to go to the screen, and the picture goes dark first.
paper-panels_fitted = Panels keep the sides black.
paper-panels_refused = Without panels the film is shown all the same, with grey instead of black beside it.
paper-pause_waits = A pause of less than { $minutes } minutes changes nothing.
paper-picture_fits = The picture finds its place by itself, within seconds of a new shape.
paper-quote_detail_is = Detail is how many of the projector's points make the picture.
paper-quote_fixed = The lens stays where it is, and every film is fitted in.
paper-quote_light = Of all these ways only a longer zoom makes the picture brighter.
paper-quote_light_is = Light is how bright white is on the screen.
paper-quote_panels = Panels cover what the picture leaves free, so that it is black there and not grey. The table says how much of the screen that is.
paper-quote_presets = The lens moves to the place that shows each film best.
paper-quote_time = Each move takes up to { $seconds } seconds, at the beginning of a film.
paper-quote_walk = Fitting panels takes somebody a walk to the screen.
paper-quote_wear = Each move wears the lens a little. It is looked at twice a year, and adjusted when it has crept.
paper-say_no = Every question may be answered with No, and silence is an answer too: the picture stays as it is.
paper-sides_dark = The sides stay dark.
paper-stretch_cropped = Enlarged. Everything keeps its shape, and a little is cut off at the top and the bottom.
paper-stretch_plain = As it was made. The sides stay dark.
paper-stretch_stretched = Widened towards the sides. What is round stays round in the middle and is wider at the sides.
paper-stretch_whole = The whole frame, with its dark bars. Nothing is lost, and it is the smallest.
