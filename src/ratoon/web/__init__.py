"""The pages: each is a record, a view and a template; with ``?format=json`` the record as JSON.

Read `door` (`guard`: what is let in, `visit`: who asks, `access`: who may see and do what), `days`
(which mill day was meant), `shared` (how a page is answered), `app`, `serve`; then `answers`, which
holds what was made. The other folders are what people do: `sheet`, `plant`, `trial`, `best`,
`season`, `sugar`, `strikes`, `cane`, `yard`, `journal`, `laboratory`, `files`, `find`. In each, a
page's record, its view, its drawing and its template are side by side; what all pages share is in
`templates`, `static` and `navigation` (the bar). `mornings` has the pages whose answer is kept for
the morning after a mill day.

To add a page: write, in the folder of what people do with it, its record, a function `add_...(app,
pages)` whose views are made by ``@get(app, address, Record)`` of `shared`, answer with
`pages.answer(...)`, and that is called in `app.create_app`, and a template; then give its address a
line in `door.access.RULES`, else nobody may see it and a test fails. The record is in the
description of all addresses (`described`) by itself. The line says which roles see it (GET), which
act there (POST), and whether one answer serves all of a role while the records stand (`held`,
`until`). A page of the bar has a name in its group of `navigation.NAVIGATION`, too.

To add a form: ``{% from "form.html" import form_token with context %}``, then
``<form method="post" action="/...">{{ form_token() }}``; a script sends the header `X-Form-Token`
with what ``<meta name="form-token">`` holds. Without it the post is refused before the view runs.
Views that act pass `visit.who()` to the store (`store.writing(who())`), so that the event names the
person. After an act answer with a redirect (303). In tests, `form_token(client)` of the conftest
gives the token.

Templates ask `may_see(address)` and `may_act(address)` before they show a link or a form, and
`visitor()` who asks. A grower sees the own cane alone: a view of one grower's cane first calls
`access.only_own(grower)`, and a list keeps to `visitor().grower`.
"""
