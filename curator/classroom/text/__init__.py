"""Every word a class or a teacher reads, one YAML file a language."""
