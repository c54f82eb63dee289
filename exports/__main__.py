"""``python -m exports`` is the command."""

if __name__ == "__main__":
    try:
        from exports.cli import main
    except KeyboardInterrupt:
        raise SystemExit(130) from None
    main()
