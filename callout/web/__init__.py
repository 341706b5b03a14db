"""The board in a browser: what a conversation knows, on tablets, phones and laptops of one network, read-only until
paired. (`callout.board` is the snapshot; a room of that name would hide it.)"""
