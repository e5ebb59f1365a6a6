"""The studio: people, their takes and readings, and the chart that stands.

Input and output live here: a folder with an embedded database and the sound beside it. See
``database`` (opening), ``filing`` (what a person does), ``chart`` (what stands), ``chart_csv``
and ``archive`` (in and out), ``reread`` (every stored take by the present judge), ``demo``.
"""

__all__: list[str] = []
