"""The pages: thin views over the services. Nothing here computes or queries."""

from portfolio.web.app import create_app

__all__ = ["create_app"]
