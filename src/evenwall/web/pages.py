from nicegui import ui
from evenwall.web import urls
from evenwall.web.tags import tag, words
from evenwall.web.window import head
def register(shop, runs):
    from nicegui.elements import scene
    @ui.page("/")
    def start():
        head("Start")
        ui.add_head_html(f'<script type="module" src="{urls.part("view.js")}"></script>')
        with tag("main","start"):
            words("h1","Start")
            tag("wall-view", shape="/dev/shape", film="/dev/film", wanted="0.003", hand="yes", id="one", label="Ammonite")
