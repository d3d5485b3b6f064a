"""the local app: app, guard, urls, views/<view>.py, parts/ (own ES modules), api"""
