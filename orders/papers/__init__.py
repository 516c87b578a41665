"""The papers an order leaves behind, each drawn from a frozen snapshot.

``view_models`` holds what a paper prints, one module per paper draws it with
``blendshop.documents``. Nothing here reads the database or the clock.
"""
