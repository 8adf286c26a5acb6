"""The sample pictures: rendered by our own script with Blender's Cycles (`bpy`), truth known from the scene itself."""
